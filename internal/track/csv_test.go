package track

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

func TestWriteReadRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := form.Track{Width: 1280, Height: 720, RateHz: 59.94, View: form.ViewSide, Facing: form.Left, Network: "full", LevelDeg: -1.25, LevelSD: 0.2}
		n := rapid.IntRange(1, 20).Draw(t, "frames")
		for i := range n {
			f := form.Frame{Time: float64(i) / 59.94}
			for j := range f.Spots {
				if j == 0 || rapid.Bool().Draw(t, "seen") {
					f.Spots[j] = form.Spot{
						X:          rapid.Float64Range(-5000, 5000).Draw(t, "x"),
						Y:          rapid.Float64Range(-5000, 5000).Draw(t, "y"),
						Confidence: rapid.Float64Range(0.001, 1).Draw(t, "c"),
					}
				}
			}
			in.Frames = append(in.Frames, f)
		}
		var b bytes.Buffer
		if err := Write(&b, in); err != nil {
			t.Fatal(err)
		}
		out, err := Read(&b)
		if err != nil {
			t.Fatal(err)
		}
		if out.Width != in.Width || out.View != in.View || out.Facing != in.Facing || out.Network != in.Network || out.RateHz != in.RateHz || out.LevelDeg != in.LevelDeg || out.LevelSD != in.LevelSD {
			t.Fatalf("meta changed: %+v", out)
		}
		if len(out.Frames) != n {
			t.Fatalf("%d frames, want %d", len(out.Frames), n)
		}
		for i := range out.Frames {
			for j := range out.Frames[i].Spots {
				a, b := in.Frames[i].Spots[j], out.Frames[i].Spots[j]
				if a.Seen() != b.Seen() || math.Abs(a.X-b.X) > 0.0006 || math.Abs(a.Y-b.Y) > 0.0006 {
					t.Fatalf("frame %d joint %d: %v became %v", i, j, a, b)
				}
			}
		}
	})
}

func TestReadSaysWhatIsWrong(t *testing.T) {
	row := header + "\n0,hip,left,1,2,0.5\n"
	for _, c := range []struct{ name, in, want string }{
		{"empty", "", "empty"},
		{"no rows", header + "\n", "no points"},
		{"other header", "a,b,c\n", "begin with"},
		{"unknown point", row + "0.1,elbowx,left,1,2,0.5\n", "line 3"},
		{"no side", row + "0.1,hip,mid,1,2,0.5\n", "left or right"},
		{"not a number", row + "0.1,hip,left,NaN,2,0.5\n", "not a number"},
		{"confidence", row + "0.1,hip,left,1,2,1.5\n", "confidence"},
		{"columns", row + "0.1,hip,left\n", "columns"},
		{"view", "# view: above\n" + row, "side, front, back"},
		{"comments count as lines", "# rate_hz: 60\n# note\n" + row + "0.1,hipp,left,1,2,1\n", "line 5"},
	} {
		_, err := Read(strings.NewReader(c.in))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want a sentence with %q", c.name, err, c.want)
		}
		if form.CodeOf(err) != form.CodeClip {
			t.Errorf("%s: code %q, want clip", c.name, form.CodeOf(err))
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(header + "\n0,hip,left,1,2,0.5\n")
	f.Add("# width_px: 100\n# view: side\n" + header + "\n0,nose,mid,1,2,0.5\n0.016,toe,right,1,2,1\n")
	f.Add("\xef\xbb\xbf# facing: left\r\n" + header + "\r\n0,nose,mid,1,2,0.5\r\n")
	f.Fuzz(func(t *testing.T, in string) {
		tr, err := Read(strings.NewReader(in))
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := Write(&b, tr); err != nil {
			t.Fatal(err)
		}
		for i := 1; i < len(tr.Frames); i++ {
			if !(tr.Frames[i].Time > tr.Frames[i-1].Time) {
				t.Fatal("times don't increase")
			}
		}
	})
}
