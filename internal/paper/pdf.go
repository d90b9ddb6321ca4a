package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/draw"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
)

// PDF writes the card as one sheet of A4 or Letter, and what a second clip
// shows from behind as another. The same card gives the same bytes: its date
// is that of the card.
func PDF(w io.Writer, c card.Card, o Options) error {
	o = o.normal()
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	side, behind, two := card.SplitBehind(c.In(o.Words))
	s := compose(set, side, o).s
	p := newPainter(set, s.width, s.height, documentOf{
		title: o.Words.Say("Form card") + ": " + card.Clean(c.Runner.Name, nameLimit), subject: o.Words.Say("Running form, from a clip"),
		program: c.Program, language: string(o.Words.Language()), made: c.Made,
	})
	widths := map[int]bool{}
	p.sheet(s, 0, widths)
	if two {
		p.sheet(compose(set, behind, o).s, len(s.stills), widths)
	}
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("paper: write the PDF: %w", err)
	}
	return nil
}

// sheet adds a page; from counts the pictures of those before it.
func (p *pdfPainter) sheet(s sheet, from int, widths map[int]bool) {
	p.pdf.AddPage()
	for i, st := range s.stills {
		p.still(from+i, st, widths)
	}
	s.drawing.Paint(p)
}

// pdfPainter paints drawings with fpdf, in points.
type pdfPainter struct {
	pdf    *fpdf.Fpdf
	set    *fonts.Set
	colour chart.Palette
}

var families = [...]struct{ family, style string }{
	chart.Serif: {"serif", ""}, chart.SerifItalic: {"serif", "I"}, chart.Sans: {"sans", ""}, chart.SansMedium: {"sans", "B"},
}

// documentOf is what a PDF says about itself.
type documentOf struct {
	title, subject, program, language string
	made                              time.Time
}

// newPainter begins a PDF without pages; width and height in points.
func newPainter(set *fonts.Set, width, height float64, about documentOf) *pdfPainter {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: width, Ht: height}})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(about.made)
	pdf.SetModificationDate(about.made)
	pdf.SetTitle(about.title, true)
	pdf.SetSubject(about.subject, true)
	pdf.SetCreator(card.Clean(about.program, 40), true)
	pdf.SetLang(about.language)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	for i, f := range families {
		pdf.AddUTF8FontFromBytes(f.family, f.style, bytes.Clone(fonts.TrueType(chart.Font(i))))
	}
	colour := chart.LightPalette()
	colour[chart.Page] = chart.Colour{R: 255, G: 255, B: 255}
	return &pdfPainter{pdf: pdf, set: set, colour: colour}
}

// stillPixels is the height to which larger pictures are brought down: about
// 300 a inch at the largest size on the sheet.
const stillPixels = 820

// still puts one picture on the sheet as a JPEG. fpdf writes pictures in the
// order of their widths, and those of one width in any order: no two get the
// same, so that the same card gives the same bytes.
func (p *pdfPainter) still(i int, s still, widths map[int]bool) {
	size := shown(s.img, stillPixels)
	for widths[size.X] {
		size.X++
	}
	widths[size.X] = true
	data, err := jpegOf(s.img, size)
	if err != nil {
		p.pdf.SetError(err)
		return
	}
	name := fmt.Sprintf("still%d", i)
	options := fpdf.ImageOptions{ImageType: "JPG"}
	p.pdf.RegisterImageOptionsReader(name, options, bytes.NewReader(data))
	p.pdf.ImageOptions(name, s.box.X1, s.box.Y1, s.box.X2-s.box.X1, s.box.Y2-s.box.Y1, false, options, 0, "")
}

// shown is the size in pixels at which a picture is kept: its own, or that
// of the given height where it is higher.
func shown(img image.Image, height int) image.Point {
	size := img.Bounds().Size()
	if size.Y > height {
		size = image.Pt(max(1, size.X*height/size.Y), height)
	}
	return size
}

// jpegOf writes a picture at a size in pixels.
func jpegOf(img image.Image, size image.Point) ([]byte, error) {
	small := image.NewRGBA(image.Rectangle{Max: size})
	draw.CatmullRom.Scale(small, small.Bounds(), img, img.Bounds(), draw.Src, nil)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, small, &jpeg.Options{Quality: 86}); err != nil {
		return nil, fmt.Errorf("paper: write a picture: %w", err)
	}
	return out.Bytes(), nil
}

func (p *pdfPainter) stroke(s chart.Stroke) {
	c := p.colour[s.Ink]
	p.pdf.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.pdf.SetLineWidth(s.Width)
	p.pdf.SetDashPattern(s.Dash, 0)
	if s.Round {
		p.pdf.SetLineCapStyle("round")
	} else {
		p.pdf.SetLineCapStyle("butt")
	}
}

// style sets colours for an outline and gives fpdf's word for what to do.
func (p *pdfPainter) style(fill chart.Ink, s chart.Stroke) string {
	word := ""
	if fill != chart.None {
		c := p.colour[fill]
		p.pdf.SetFillColor(int(c.R), int(c.G), int(c.B))
		word = "F"
	}
	if s.Ink != chart.None {
		p.stroke(s)
		word += "D"
	}
	return word
}

// Segment draws a line.
func (p *pdfPainter) Segment(s chart.Segment) {
	if s.Stroke.Ink == chart.None {
		return
	}
	p.stroke(s.Stroke)
	p.pdf.Line(s.X1, s.Y1, s.X2, s.Y2)
}

// Path draws an outline.
func (p *pdfPainter) Path(c chart.Path) {
	word := p.style(c.Fill, c.Stroke)
	if word == "" {
		return
	}
	for _, op := range c.Ops {
		switch op.Do {
		case 'M':
			p.pdf.MoveTo(op.X, op.Y)
		case 'L':
			p.pdf.LineTo(op.X, op.Y)
		case 'C':
			p.pdf.CurveBezierCubicTo(op.X1, op.Y1, op.X2, op.Y2, op.X, op.Y)
		case 'Z':
			p.pdf.ClosePath()
		}
	}
	p.pdf.DrawPath(word)
}

// Circle draws a circle.
func (p *pdfPainter) Circle(c chart.Circle) {
	if word := p.style(c.Fill, c.Stroke); word != "" {
		p.pdf.Circle(c.X, c.Y, c.R, word)
	}
}

// Label writes a line of text where it was measured to stand.
func (p *pdfPainter) Label(l chart.Label) {
	if l.Text == "" {
		return
	}
	x := l.Box().X1
	f, c := families[l.Font], p.colour[l.Ink]
	p.pdf.SetFont(f.family, f.style, l.Size)
	p.pdf.SetTextColor(int(c.R), int(c.G), int(c.B))
	p.pdf.Text(x, l.Y, p.set.Printable(l.Font, l.Text))
}
