package report

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval/bound"
)

// ramp is six colours of cividis (Nuñez, Anderton and Renslow 2018, PLOS ONE
// 13(7): e0199239), which rises evenly in lightness for every kind of colour
// vision; the light end stands for small errors. Each cell has its number too.
func ramp() []color.NRGBA {
	return []color.NRGBA{
		{0xFF, 0xEA, 0x46, 255}, {0xCB, 0xBA, 0x69, 255}, {0x95, 0x8F, 0x78, 255},
		{0x66, 0x69, 0x70, 255}, {0x31, 0x44, 0x6B, 255}, {0x00, 0x20, 0x4D, 255},
	}
}

// lightSteps is how many of the ramp's first colours carry dark numbers.
const lightSteps = 3

// boundMap is a plotter of bounds by the sensor's depth, left to right, and the
// strike's height, bottom to top, as on the bag.
type boundMap struct {
	m  bound.Map
	of BoundOf
}

// Plot draws the map into the canvas. It implements plot.Plotter.
func (b boundMap) Plot(c draw.Canvas, _ *plot.Plot) {
	left, right := c.Min.X+4.2*fontSize, c.Max.X-0.6*fontSize
	bottom, top := c.Min.Y+3.6*fontSize, c.Max.Y-2.2*fontSize
	nx, ny := len(b.m.DepthsM), len(b.m.HeightsM)
	x := func(i int) vg.Length { return left + (right-left)*vg.Length(i)/vg.Length(nx) }
	y := func(k int) vg.Length { return bottom + (top-bottom)*vg.Length(k)/vg.Length(ny) }
	least, most, _ := reach(b.values())
	for i := range nx {
		for k := range ny {
			value := b.of.value(b.m.Least[i][k])
			middle := vg.Point{X: (x(i) + x(i+1)) / 2, Y: (y(k) + y(k+1)) / 2}
			heatCell(c, rectangle(x(i), y(k), x(i+1), y(k+1)), middle, value, least, most, shortly(value))
		}
	}
	c.SetLineStyle(line(ink, 1))
	c.Stroke(rectangle(left, bottom, right, top))
	axis := textStyle(0.85*fontSize, ink, text.XCenter, text.YTop)
	for i, d := range b.m.DepthsM {
		c.FillText(axis, vg.Point{X: (x(i) + x(i+1)) / 2, Y: bottom - 0.4*fontSize}, fmt.Sprintf("%.2f", d))
	}
	c.FillText(axis, vg.Point{X: (left + right) / 2, Y: bottom - 1.8*fontSize}, "depth of the sensor below the bag's top, m")
	axis.XAlign, axis.YAlign = text.XRight, text.YCenter
	for k, h := range b.m.HeightsM {
		c.FillText(axis, vg.Point{X: left - 0.4*fontSize, Y: (y(k) + y(k+1)) / 2}, fmt.Sprintf("%.2f", h))
	}
	axis.XAlign, axis.YAlign, axis.Rotation = text.XCenter, text.YTop, math.Pi/2
	c.FillText(axis, vg.Point{X: c.Min.X + 0.2*fontSize, Y: (bottom + top) / 2}, "height of the strike, m")
	c.FillText(textStyle(fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: left, Y: top + 0.5*fontSize}, b.of.words()+" (– cannot be told)")
}

// heatCell fills a cell by how large its value is between the least and the most,
// on a logarithmic scale, and writes words on it; a value that is not known or
// endless has no colour.
func heatCell(c draw.Canvas, cell vg.Path, middle vg.Point, value, least, most float64, words string) {
	number := textStyle(0.8*fontSize, ink, text.XCenter, text.YCenter)
	if !math.IsInf(value, 0) && !math.IsNaN(value) {
		colours, step := ramp(), 0
		if value > 0 && most > least {
			step = max(0, min(len(colours)-1, int(float64(len(colours))*math.Log(value/least)/math.Log(most/least))))
		}
		c.SetColor(colours[step])
		c.Fill(cell)
		number.Color = color.NRGBA{0x10, 0x12, 0x14, 255}
		if step >= lightSteps {
			number.Color = color.NRGBA{255, 255, 255, 255}
		}
	}
	c.FillText(number, middle, words)
}

func (b boundMap) values() []float64 {
	var out []float64
	for _, row := range b.m.Least {
		for _, l := range row {
			out = append(out, b.of.value(l))
		}
	}
	return out
}

// BoundMapSVG draws bounds over the sensor's depth and the strike's height,
// each as a coloured cell with its number, as an SVG file with a title for
// those who cannot see it. The same map gives the same bytes. A map of some 12
// by 12 can be read well.
func BoundMapSVG(w io.Writer, m bound.Map, of BoundOf) error {
	if len(m.DepthsM) == 0 || len(m.HeightsM) == 0 || len(m.Least) != len(m.DepthsM) {
		return fmt.Errorf("report: a map of bounds with %d depths, %d heights and %d rows: it has nothing to draw", len(m.DepthsM), len(m.HeightsM), len(m.Least))
	}
	b := boundMap{m: m, of: of}
	p := plot.New()
	p.HideAxes()
	p.BackgroundColor = nil
	p.Add(b)
	width := 5.5*fontSize + vg.Length(len(m.DepthsM))*3.2*fontSize
	height := 6.5*fontSize + vg.Length(len(m.HeightsM))*2*fontSize
	return standalone(w, max(width, 32*fontSize), height, b.title(), func(c draw.Canvas) { p.Draw(c) })
}

// title says in words what the map shows.
func (b boundMap) title() string {
	s := fmt.Sprintf("Map of the %s, by depth of the sensor and height of the strike", b.of.words())
	least, most, ok := reach(b.values())
	if !ok {
		return s + ": it can be told nowhere"
	}
	return s + fmt.Sprintf(": from %s to %s", shortly(least), shortly(most))
}
