package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval/bound"
)

// BoundLine is one line of a chart of bounds, such as that with a gyroscope.
type BoundLine struct {
	Name  string
	Least []bound.Least
}

// boundLines is a plotter of bounds against something, on a logarithmic scale.
// Lines differ in colour and in dashes, and have their names beside them.
type boundLines struct {
	x     []float64
	xName string
	of    BoundOf
	lines []BoundLine
}

// strokes are the roles and dashes of lines, in order.
func strokes() []draw.LineStyle {
	return []draw.LineStyle{line(right, 1.8), line(flip, 1.8, 5, 2), line(ink, 1.4, 1.5, 1.5), line(wrong, 1.8, 7, 2, 1.5, 2)}
}

// Plot draws the chart into the canvas. It implements plot.Plotter.
func (b boundLines) Plot(c draw.Canvas, _ *plot.Plot) {
	left, right := c.Min.X+3*fontSize, c.Max.X-1.2*fontSize
	bottom, top := c.Min.Y+3.6*fontSize, c.Max.Y-(2.4+1.3*vg.Length(len(b.lines)))*fontSize
	least, most, _ := reach(b.values())
	low, high := math.Floor(math.Log10(least)), math.Ceil(math.Log10(most))
	if !(high > low) {
		high = low + 1
	}
	from, to := b.x[0], b.x[len(b.x)-1]
	x := func(v float64) vg.Length { return left + (right-left)*vg.Length((v-from)/(to-from)) }
	y := func(v float64) vg.Length {
		return bottom + (top-bottom)*vg.Length((math.Log10(v)-low)/(high-low))
	}
	tick := textStyle(0.85*fontSize, ink, text.XRight, text.YCenter)
	for decade := low; decade <= high; decade++ {
		v := math.Pow(10, decade)
		c.StrokeLine2(line(faint, 0.5), left, y(v), right, y(v))
		c.FillText(tick, vg.Point{X: left - 0.4*fontSize, Y: y(v)}, fmt.Sprintf("%.12g", v))
	}
	tick.XAlign, tick.YAlign = text.XCenter, text.YTop
	for _, t := range (plot.DefaultTicks{}).Ticks(from, to) {
		if !t.IsMinor() {
			c.StrokeLine2(line(ink, 0.7), x(t.Value), bottom, x(t.Value), bottom-0.3*fontSize)
			c.FillText(tick, vg.Point{X: x(t.Value), Y: bottom - 0.5*fontSize}, t.Label)
		}
	}
	c.FillText(tick, vg.Point{X: (left + right) / 2, Y: bottom - 1.9*fontSize}, b.xName)
	c.FillText(textStyle(fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: left, Y: c.Max.Y - 1.2*fontSize}, b.of.words())
	for k, l := range b.lines {
		style := strokes()[k]
		for _, part := range b.parts(l) {
			points := make([]vg.Point, len(part))
			for j, i := range part {
				points[j] = vg.Point{X: x(b.x[i]), Y: y(b.of.value(l.Least[i]))}
			}
			c.StrokeLines(style, points)
		}
		key := top + (0.8+1.3*vg.Length(len(b.lines)-1-k))*fontSize
		c.StrokeLine2(style, left, key, left+3*fontSize, key)
		c.FillText(textStyle(0.85*fontSize, ink, text.XLeft, text.YCenter), vg.Point{X: left + 3.5*fontSize, Y: key}, l.Name)
	}
	c.SetLineStyle(line(ink, 1))
	c.Stroke(rectangle(left, bottom, right, top))
}

// parts are the stretches, by position, in which a line can be told.
func (b boundLines) parts(l BoundLine) [][]int {
	var out [][]int
	open := false
	for i := range b.x {
		if v := b.of.value(l.Least[i]); math.IsInf(v, 0) || !(v > 0) {
			open = false
			continue
		}
		if !open {
			out, open = append(out, nil), true
		}
		out[len(out)-1] = append(out[len(out)-1], i)
	}
	return out
}

func (b boundLines) values() []float64 {
	var out []float64
	for _, l := range b.lines {
		for _, x := range l.Least {
			out = append(out, b.of.value(x))
		}
	}
	return out
}

// title says in words what the chart shows.
func (b boundLines) title() string {
	var parts []string
	for _, l := range b.lines {
		n := len(l.Least) - 1
		parts = append(parts, fmt.Sprintf("%s from %s at %.3g to %s at %.3g", l.Name, shortly(b.of.value(l.Least[0])), b.x[0], shortly(b.of.value(l.Least[n])), b.x[n]))
	}
	return fmt.Sprintf("Chart of the %s by %s: %s", b.of.words(), b.xName, strings.Join(parts, "; "))
}

func (b boundLines) draw(w io.Writer) error {
	if len(b.x) < 2 || len(b.lines) == 0 || len(b.lines) > len(strokes()) {
		return fmt.Errorf("report: a chart of bounds with %d lines of %d points: give 1 to %d lines of 2 points or more", len(b.lines), len(b.x), len(strokes()))
	}
	for i := range b.x[1:] {
		if !(b.x[i+1] > b.x[i]) {
			return fmt.Errorf("report: a chart of bounds goes from %g to %g: give growing numbers", b.x[i], b.x[i+1])
		}
	}
	for _, l := range b.lines {
		if len(l.Least) != len(b.x) {
			return fmt.Errorf("report: line %q has %d points, the chart %d", l.Name, len(l.Least), len(b.x))
		}
	}
	if _, _, ok := reach(b.values()); !ok {
		return fmt.Errorf("report: a chart of bounds: the %s can be told nowhere, so there is nothing to draw", strings.TrimPrefix(b.of.words(), "least sd of the "))
	}
	p := plot.New()
	p.HideAxes()
	p.BackgroundColor = nil
	p.Add(b)
	return standalone(w, 320, 230, b.title(), func(c draw.Canvas) { p.Draw(c) })
}

// BoundWaitSVG draws bounds against the end of the window after the onset, in
// seconds, as an SVG file; BoundBagSVG against the height of the strike, which
// all lines share. What cannot be told is a gap in its line.
func BoundWaitSVG(w io.Writer, afterS []float64, lines []BoundLine, of BoundOf) error {
	ms := make([]float64, len(afterS))
	for i, s := range afterS {
		ms[i] = 1000 * s
	}
	return boundLines{x: ms, xName: "window after the onset, ms", of: of, lines: lines}.draw(w)
}

// BoundBagSVG is like BoundWaitSVG.
func BoundBagSVG(w io.Writer, lines []BoundLine, of BoundOf) error {
	b := boundLines{xName: "height of the strike above the bag's bottom, m", of: of, lines: lines}
	if len(lines) > 0 {
		for _, l := range lines[0].Least {
			b.x = append(b.x, l.HeightM)
		}
	}
	return b.draw(w)
}
