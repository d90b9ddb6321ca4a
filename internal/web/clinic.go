package web

import (
	"bytes"
	"html/template"

	"plumbstride/internal/clinic"
	"plumbstride/internal/evening"
	"plumbstride/internal/paper"
)

// phoneWidth is the width of a drawing on a phone's page.
const phoneWidth = 340

// clinicPage tells over all classes what changed, without a name.
type clinicPage struct {
	clinic.Told
	Drawing template.HTML
}

func (v *visit) clinicReport() (clinic.Report, clinic.Told, error) {
	r, err := evening.Clinic(v.ctx(), v.Store, v.site.Program, v.site.Now())
	if err != nil {
		return r, clinic.Told{}, err
	}
	return r, r.Tell(v.words, v.site.Units, v.drillTitle), nil
}

// drillTitle is a drill's title in the visitor's language.
func (v *visit) drillTitle(id string) string {
	if d, ok := v.site.Drills.Find(id); ok {
		return v.words.Of(d.Title)
	}
	return id
}

// clinic shows it.
func (v *visit) clinic() error {
	r, told, err := v.clinicReport()
	if err != nil {
		return err
	}
	p := clinicPage{Told: told}
	if d, ok := paper.ClinicDrawing(v.site.letters, r, phoneWidth, v.words); ok {
		p.Drawing = template.HTML(d.SVG("clinic"))
	}
	return v.show("clinic", v.words.Say("Does the clinic work?"), p)
}

// clinicSheet is the same on paper.
func (v *visit) clinicSheet() error {
	r, told, err := v.clinicReport()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := paper.ClinicPDF(&out, r, told, paper.Options{Page: v.site.Page, Words: v.words}, v.site.Shop.Name); err != nil {
		return err
	}
	return v.file("application/pdf", "clinic.pdf", out.Bytes())
}

// clinicTable is it as a table.
func (v *visit) clinicTable() error {
	r, _, err := v.clinicReport()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := r.WriteCSV(&out); err != nil {
		return err
	}
	return v.file("text/csv; charset=utf-8", "clinic.csv", out.Bytes())
}
