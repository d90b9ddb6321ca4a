package roster

import (
	"bytes"
	"encoding/csv"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

func TestReadCSV(t *testing.T) {
	want := Runner{Name: "Ada Quill", Contact: "ada@example.org", BirthYear: 1990, HeightM: 1.72, MassKg: 61.5, Sex: Female,
		Paces: []Pace{{"easy", 10 / 3.6}, {"5 km race", 1000.0 / 255}}, Shoes: "flat, worn", Goals: "a half"}
	plain := "name,contact,birth_year,height,mass,sex,paces,shoes,goals\nAda Quill,ada@example.org,1990,172cm,61.5kg,f,easy 10 km/h | 5 km race 4:15/km,\"flat, worn\",a half\n"
	for name, text := range map[string]string{
		"commas":          plain,
		"byte order mark": "\ufeff" + plain,
		"Windows lines":   strings.ReplaceAll(plain, "\n", "\r\n"),
		"semicolons":      "Name;Contact;Birth year;Height_cm;Mass_kg;Sex;Paces;Shoes;Goals\nAda Quill;ada@example.org;1990;172;61.5;Female;easy 10km/h|5 km race 4:15/km;flat, worn;a half\n;;;;;;;;\n",
		"tabs":            "name\tcontact\tbirth_year\theight\tmass\tsex\tpaces\tshoes\tgoals\nAda Quill\tada@example.org\t1990\t1.72m\t61.5kg\tfemale\teasy 10km/h | 5 km race 4:15/km\tflat, worn\ta half",
	} {
		sheet, err := ReadCSV(strings.NewReader(text), evening)
		if err != nil || len(sheet.Runners) != 1 {
			t.Errorf("%s: %+v, %v", name, sheet, err)
			continue
		}
		if got := sheet.Runners[0]; !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\n%+v, want\n%+v", name, got, want)
		}
	}
}

func TestReadCSVRefuses(t *testing.T) {
	for name, tt := range map[string]struct{ text, says string }{
		"nothing":         {"", "no heading"},
		"no name column":  {"height,mass\n172cm,60kg\n", `no column "name"`},
		"a column twice":  {"name,name\na,b\n", "two columns"},
		"no unit":         {"name,height\nA,172\n", "line 2: height"},
		"all lines named": {"name,birth_year\nA,x\nB,1990\nC,1700\n", "line 4"},
		"too many cells":  {"name,shoes\nA,blue,red\n", "more cells (3) than headings (2)"},
		"UTF-16":          {"\xff\xfen\x00a\x00", "UTF-8"},
		"Latin-1":         {"name\nJos\xe9\n", "UTF-8"},
		"a broken quote":  {"name,shoes\n\"A,blue\n", "any further"},
		"too long":        {"name\n" + strings.Repeat("a\n", maxRosterRows+1), "5000"},
		"too large":       {"name\n" + strings.Repeat(" ", maxRosterBytes), "4 MB"},
	} {
		sheet, err := ReadCSV(strings.NewReader(tt.text), evening)
		if form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: %v", name, err)
		}
		if len(sheet.Runners) != 0 && name == "all lines named" {
			t.Errorf("%s: %d runners were taken", name, len(sheet.Runners))
		}
	}
	sheet, err := ReadCSV(strings.NewReader("name,star sign\nA,crab\n"), evening)
	if err != nil || len(sheet.Ignored) != 1 || sheet.Ignored[0] != "star sign" {
		t.Errorf("%+v, %v", sheet, err)
	}
}

// TestNoFormula: opened with any of the separators in use, no cell of an
// export begins a formula. Source: OWASP, "CSV Injection".
func TestNoFormula(t *testing.T) {
	for _, evil := range []string{
		`=cmd|' /C calc'!A0`, "+1", "-1+2", "@SUM(A1)", "＝1+1", "x;=1+1", `x","=1+1`, "x,=1", `";=1`, "a; =1", "x|=1", "'=1", " =1",
	} {
		var b bytes.Buffer
		if err := WriteCSV(&b, []Runner{{Name: "A", Contact: evil, Goals: evil, Shoes: evil}}); err != nil {
			t.Fatal(err)
		}
		for _, separator := range ",;\t" {
			r := csv.NewReader(bytes.NewReader(b.Bytes()))
			r.Comma, r.LazyQuotes, r.FieldsPerRecord = separator, true, -1
			rows, err := r.ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			for _, row := range rows {
				for _, cell := range row {
					if c := strings.Trim(cell, " \""); c != "" && strings.ContainsRune(formulaSigns, []rune(c)[0]) {
						t.Errorf("%q separated by %q gives the cell %q", evil, separator, cell)
					}
				}
			}
		}
		sheet, err := ReadCSV(&b, evening)
		if err != nil || sheet.Runners[0].Contact != strings.TrimSpace(evil) {
			t.Errorf("%q came back as %+v, %v", evil, sheet, err)
		}
	}
}

// TestRoundTrip: whatever is a clean runner comes back from a table as it
// was, but for what the table leaves out.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.OneOf(rapid.Rune(), rapid.SampledFrom([]rune("'=+-@;,|\" \t12km/h"))))
		r := Runner{
			Name: rapid.StringN(1, 20, -1).Draw(t, "name"), Contact: text.Draw(t, "contact"), Shoes: text.Draw(t, "shoes"), Goals: text.Draw(t, "goals"),
			BirthYear: rapid.SampledFrom([]int{0, 1960, 2010}).Draw(t, "year"),
			HeightM:   rapid.Float64Range(0.8, 2.4).Draw(t, "height"), MassKg: rapid.Float64Range(13, 200).Draw(t, "mass"),
			Sex:   rapid.SampledFrom([]Sex{NotStated, Female, Male}).Draw(t, "sex"),
			Paces: []Pace{{text.Draw(t, "pace"), float64(rapid.IntRange(3, 40).Draw(t, "km/h")) / 3.6}},
		}
		clean, err := r.Clean(evening)
		if err != nil {
			t.Skip("not clean")
		}
		var b bytes.Buffer
		if err := WriteCSV(&b, []Runner{clean}); err != nil {
			t.Fatal(err)
		}
		sheet, err := ReadCSV(&b, evening)
		if err != nil || len(sheet.Runners) != 1 {
			t.Fatalf("%q: %v", b.String(), err)
		}
		got := sheet.Runners[0]
		if d := got.Paces[0].SpeedMS - clean.Paces[0].SpeedMS; d > 1e-6 || d < -1e-6 {
			t.Errorf("speed off by %g", d)
		}
		got.Paces[0].SpeedMS = clean.Paces[0].SpeedMS
		if !reflect.DeepEqual(got, clean) {
			t.Errorf("%+v\ncame back as\n%+v", clean, got)
		}
	})
}

func FuzzReadCSV(f *testing.F) {
	f.Add([]byte("name,height\nA,172cm\n"))
	f.Add([]byte("name;paces\n'=A;easy 10km/h | 5:00/km\n"))
	f.Add([]byte("\ufeffname\tgoals\n\"a\nb\"\t'=1\n"))
	f.Add([]byte("name,height_cm\nA,.\nB,172\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		sheet, err := ReadCSV(bytes.NewReader(data), evening)
		if err != nil {
			if form.CodeOf(err) != form.CodeUsage {
				t.Fatalf("not an error a coach can act on: %v", err)
			}
			return
		}
		var once, twice bytes.Buffer
		if err := WriteCSV(&once, sheet.Runners); err != nil {
			t.Fatal(err)
		}
		again, err := ReadCSV(bytes.NewReader(once.Bytes()), evening)
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%s", err, once.String())
		}
		if err := WriteCSV(&twice, again.Runners); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(once.Bytes(), twice.Bytes()) {
			t.Errorf("written twice:\n%s\n%s", once.String(), twice.String())
		}
	})
}
