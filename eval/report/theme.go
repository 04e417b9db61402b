package report

import (
	"fmt"
	"html"
	"html/template"
	"image/color"
	"regexp"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Colours by role. They are drawn as stand-in values and become variables of
// the page's style sheet, so that one drawing serves light, dark and print.
// The style sheet takes them from the palette of Okabe and Ito (2008, Color
// Universal Design), which people with any common kind of colour vision can
// tell apart; roles also differ by place, so no figure rests on colour alone.
type role uint8

const (
	ink   role = 1 + iota // text and axes
	faint                 // guides
	shade                 // areas behind the data
	right                 // on the right face or in the right band
	wrong                 // beside it
	flip                  // on the far side of the bag
	paper                 // what lies under everything
)

func (r role) colour() color.Color { return color.NRGBA{R: 0, G: 0, B: uint8(r), A: 255} }

func (r role) variable() string {
	return map[role]string{ink: "var(--ink)", faint: "var(--faint)", shade: "var(--shade)", right: "var(--right)",
		wrong: "var(--wrong)", flip: "var(--flip)", paper: "var(--paper)"}[r]
}

func (r role) standIn() string { return fmt.Sprintf("#%02X%02X%02X", 0, 0, uint8(r)) }

const fontSize = vg.Length(8)

func textStyle(size vg.Length, r role, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{
		Color:   r.colour(),
		Font:    font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size),
		XAlign:  x,
		YAlign:  y,
		Handler: plot.DefaultTextHandler,
	}
}

// inline draws on a canvas of w by h points and returns the SVG to be put into
// a page, with a title for readers who cannot see it.
func inline(w, h vg.Length, title string, paint func(draw.Canvas)) (template.HTML, error) {
	canvas := vgsvg.New(w, h)
	paint(draw.New(canvas))
	var b strings.Builder
	if _, err := canvas.WriteTo(&b); err != nil {
		return "", err
	}
	body := b.String()
	start, end := strings.Index(body, "<g"), strings.LastIndex(body, "</svg>")
	if start < 0 || end < start {
		return "", fmt.Errorf("report: svg: the drawing has no body: this is a fault of the program")
	}
	body = body[start:end]
	for r := ink; r <= paper; r++ {
		body = strings.ReplaceAll(body, r.standIn(), r.variable())
	}
	body = fontStyle().ReplaceAllString(body, "")
	body = fitted(body)
	body = packed(nearZero().ReplaceAllString(body, "${1}0"))
	label := html.EscapeString(title)
	return template.HTML(fmt.Sprintf(`<svg class="figure" viewBox="0 0 %g %g" style="max-width:%gpx" role="img" aria-label="%s"><title>%s</title>%s</svg>`,
		w.Points(), h.Points(), w.Points()*4/3, label, label, strings.TrimSpace(body))), nil
}

// fontStyle matches what the canvas says of fonts, which the page's style says
// better.
func fontStyle() *regexp.Regexp {
	return regexp.MustCompile(`font-family:[^;"]*;font-variant:[^;"]*;font-weight:[^;"]*;font-style:[^;"]*;?\s*`)
}

// fitted tells a reader's fonts how wide each piece of text was taken to be, so
// that words keep to their places where the font that they were measured with is
// not at hand.
func fitted(body string) string {
	pieces := regexp.MustCompile(`<text ([^>]*font-size:([0-9.]+)px[^>]*)>([^<]+)</text>`)
	return pieces.ReplaceAllStringFunc(body, func(piece string) string {
		part := pieces.FindStringSubmatch(piece)
		size, err := strconv.ParseFloat(part[2], 64)
		if err != nil {
			return piece
		}
		width := textStyle(vg.Points(size), ink, text.XLeft, text.YBottom).Width(html.UnescapeString(part[3]))
		return fmt.Sprintf(`<text textLength="%.1f" lengthAdjust="spacingAndGlyphs" %s>%s</text>`, width.Points(), part[1], part[3])
	})
}

// nearZero matches coordinates that differ from zero by rounding alone, which
// processors with a fused multiply-add round in another way.
func nearZero() *regexp.Regexp {
	return regexp.MustCompile(`([ ,(MLA])-?\d(?:\.\d+)?e-(?:0[6-9]|[1-9]\d)`)
}

func line(r role, width vg.Length, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: r.colour(), Width: width, Dashes: dashes}
}

// marks fills small shapes in one path, which keeps a page of many thousand
// strikes small. Roles of errors differ in shape as well as in colour: right is
// a diamond, wrong a triangle, flip a square; all others are diamonds.
func marks(c draw.Canvas, r role, size vg.Length, at []vg.Point) {
	if len(at) == 0 {
		return
	}
	corners := []vg.Point{{X: -1}, {Y: 1}, {X: 1}, {Y: -1}}
	switch r {
	case wrong:
		corners = []vg.Point{{X: -1.05, Y: -0.75}, {Y: 1.1}, {X: 1.05, Y: -0.75}}
	case flip:
		corners = []vg.Point{{X: -0.85, Y: -0.85}, {X: -0.85, Y: 0.85}, {X: 0.85, Y: 0.85}, {X: 0.85, Y: -0.85}}
	}
	var path vg.Path
	for _, p := range at {
		for k, corner := range corners {
			to := p.Add(corner.Scale(size))
			if k == 0 {
				path.Move(to)
			} else {
				path.Line(to)
			}
		}
		path.Close()
	}
	c.SetColor(r.colour())
	c.Fill(path)
}
