// Package traces draws what a sensor felt: a whole session, one strike, many
// strikes of one place laid over each other, the path of the sensor seen from
// above, and how the bag rings down after strikes. It draws the same picture as
// SVG, with a title and a description in words, and as PNG: dark on white, for
// paper too, in the colours of Okabe and Ito (2008, Color Universal Design),
// which people with any common kind of colour vision can tell apart; lines differ
// in dash as well.
//
// It takes samples and windows and computes no more of them than the picture
// needs. It knows no files of a corpus.
package traces

import (
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"regexp"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Picture is a drawing that has not been put on anything yet.
type Picture struct {
	Title string
	About string // the picture in words, for those who cannot see it

	width, height vg.Length
	paint         func(draw.Canvas)
}

// pngDPI makes a point two pixels.
const pngDPI = 144

// SVG writes the picture as a file of its own. The same picture gives the same
// bytes.
func (p Picture) SVG(w io.Writer) error {
	canvas := vgsvg.New(p.width, p.height)
	p.onto(draw.New(canvas))
	var b strings.Builder
	if _, err := canvas.WriteTo(&b); err != nil {
		return fmt.Errorf("traces: svg: %w", err)
	}
	body := b.String()
	start, end := strings.Index(body, "<g"), strings.LastIndex(body, "</svg>")
	if start < 0 || end < start {
		return fmt.Errorf("traces: svg: the drawing has no body: this is a fault of the program")
	}
	// Coordinates that differ from zero by rounding alone, which processors with
	// a fused multiply-add round in another way.
	body = regexp.MustCompile(`([ ,(MLA])-?\d(?:\.\d+)?e-(?:0[6-9]|[1-9]\d)`).ReplaceAllString(body[start:end], "${1}0")
	// Fonts by what is there: the file carries none.
	body = regexp.MustCompile(`font-family:[^;"]*;`).ReplaceAllString(body, "font-family:'Liberation Sans',Arial,sans-serif;")
	_, err := fmt.Fprintf(w, `<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="%gpt" height="%gpt" viewBox="0 0 %g %g" role="img" aria-labelledby="title about">
<title id="title">%s</title>
<desc id="about">%s</desc>
%s</svg>
`, p.width.Points(), p.height.Points(), p.width.Points(), p.height.Points(), escaped(p.Title), escaped(p.About), body)
	return err
}

func escaped(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s)) // a Builder does not fail
	return b.String()
}

// PNG writes the picture as an image, 144 dots an inch.
func (p Picture) PNG(w io.Writer) error {
	canvas := vgimg.NewWith(vgimg.UseWH(p.width, p.height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(color.White))
	p.onto(draw.New(canvas))
	if _, err := (vgimg.PngCanvas{Canvas: canvas}).WriteTo(w); err != nil {
		return fmt.Errorf("traces: png: %w", err)
	}
	return nil
}

// onto paints the picture on white, with its title.
func (p Picture) onto(c draw.Canvas) {
	fill(c, paper, 0, 0, p.width, p.height)
	c.FillText(style(11, ink, text.XLeft, text.YTop), vg.Point{X: margin, Y: p.height - 8}, p.Title)
	p.paint(c)
}

// Colours.
var (
	paper  = color.NRGBA{255, 255, 255, 255}
	ink    = color.NRGBA{30, 30, 30, 255}
	faint  = color.NRGBA{200, 200, 200, 255}
	shade  = color.NRGBA{238, 238, 238, 255}
	blue   = color.NRGBA{0, 114, 178, 255}
	orange = color.NRGBA{213, 94, 0, 255}
	green  = color.NRGBA{0, 130, 95, 255}

	contactShade = color.NRGBA{222, 235, 247, 255}
	gapShade     = color.NRGBA{250, 214, 190, 255}
	thin         = color.NRGBA{150, 150, 150, 150} // of many lines
)

const (
	margin   = vg.Length(14)
	leftRoom = vg.Length(58) // of a panel, for ticks and the name of its axis
	textSize = vg.Length(8)
)

func style(size vg.Length, c color.Color, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: c, Font: font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size), XAlign: x, YAlign: y, Handler: plot.DefaultTextHandler}
}

func stroke(c color.Color, width vg.Length, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width, Dashes: dashes}
}

func fill(c draw.Canvas, colour color.Color, left, bottom, right, top vg.Length) {
	c.SetColor(colour)
	c.Fill(rectangle(left, bottom, right, top))
}

func rectangle(left, bottom, right, top vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: left, Y: bottom})
	p.Line(vg.Point{X: right, Y: bottom})
	p.Line(vg.Point{X: right, Y: top})
	p.Line(vg.Point{X: left, Y: top})
	p.Close()
	return p
}
