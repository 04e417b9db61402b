package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// figure draws errors against labels, both on logarithmic scales: dots with
// their intervals, the fitted curve through them, and dashed what it says of
// labels that there are not.
func (c learningChart) figure() Figure {
	f := Figure{Name: figureName("learning", c.measure, c.curve.Rig, c.curve.Detector), Title: c.title(), Heads: []string{"labels", c.measure, "low", "high", "fitted"}, width: 250, height: 170, paint: c.draw}
	for _, p := range c.curve.Points {
		v, fitted := c.point(p), math.NaN()
		if c.fit.Known() && p.Labels >= c.fit.From {
			fitted = c.fit.At(float64(p.Labels))
		}
		f.Rows = append(f.Rows, []string{fmt.Sprint(p.Labels), plain(v.Value), plain(v.Low), plain(v.High), plain(fitted)})
	}
	return f
}

func (c learningChart) draw(canvas draw.Canvas) {
	left, end := canvas.Min.X+3.2*fontSize, canvas.Max.X-1.5*fontSize
	bottom, top := canvas.Min.Y+3.6*fontSize, canvas.Max.Y-2*fontSize
	from, to, low, high := c.reach()
	low, high = low/1.1, high*1.1
	along := func(v, a, b float64, start, end vg.Length) vg.Length {
		return start + (end-start)*vg.Length(math.Log(v/a)/math.Log(b/a))
	}
	x := func(v float64) vg.Length { return along(v, from/1.1, to*1.05, left, end) }
	y := func(v float64) vg.Length { return along(v, low, high, bottom, top) }
	tick := textStyle(0.85*fontSize, ink, text.XRight, text.YCenter)
	for _, v := range errorTicks(low, high) {
		canvas.StrokeLine2(line(faint, 0.5), left, y(v), end, y(v))
		canvas.FillText(tick, vg.Point{X: left - 0.4*fontSize, Y: y(v)}, fmt.Sprintf("%.12g", v))
	}
	tick.XAlign, tick.YAlign = text.XCenter, text.YTop
	last := vg.Length(-1)
	for _, p := range c.curve.Points {
		at := x(float64(p.Labels))
		canvas.StrokeLine2(line(ink, 0.7), at, bottom, at, bottom-0.3*fontSize)
		if last < 0 || at-last > 2*fontSize {
			canvas.FillText(tick, vg.Point{X: at, Y: bottom - 0.5*fontSize}, fmt.Sprint(p.Labels))
			last = at
		}
	}
	canvas.FillText(tick, vg.Point{X: (left + end) / 2, Y: bottom - 1.9*fontSize}, "labelled strikes trained on")
	canvas.FillText(textStyle(fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: left, Y: canvas.Max.Y - 1.2*fontSize}, c.words)
	if c.fit.Known() {
		measured := float64(c.curve.Points[len(c.curve.Points)-1].Labels)
		canvas.StrokeLines(line(right, 1.4), c.fitted(float64(c.fit.From), measured, x, y))
		canvas.StrokeLines(line(right, 1.4, 3, 2), c.fitted(measured, to, x, y))
		if f := c.fit.More; f.HasInterval() {
			canvas.StrokeLine2(line(right, 2.4), x(to), y(c.scale*f.Low), x(to), y(c.scale*f.High))
		}
	}
	for _, p := range c.curve.Points {
		f, at := c.point(p), x(float64(p.Labels))
		if f.HasInterval() {
			canvas.StrokeLine2(line(ink, 0.8), at, y(c.scale*f.Low), at, y(c.scale*f.High))
		}
		marks(canvas, ink, 2.2, []vg.Point{{X: at, Y: y(c.scale * f.Value)}})
	}
	canvas.SetLineStyle(line(ink, 1))
	canvas.Stroke(rectangle(left, bottom, end, top))
}

// fitted is the curve from one number of labels to another.
func (c learningChart) fitted(from, to float64, x, y func(float64) vg.Length) []vg.Point {
	const steps = 40
	var out []vg.Point
	for k := range steps + 1 {
		n := from * math.Pow(to/from, float64(k)/steps)
		out = append(out, vg.Point{X: x(n), Y: y(c.scale * c.fit.At(n))})
	}
	return out
}

// errorTicks are round numbers between two ends of a logarithmic scale.
func errorTicks(low, high float64) []float64 {
	steps := []float64{1, 2, 5}
	if high/low < 4 {
		steps = []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8}
	}
	var out []float64
	for decade := math.Floor(math.Log10(low)); decade <= math.Log10(high); decade++ {
		for _, s := range steps {
			if v := s * math.Pow(10, decade); v >= low && v <= high {
				out = append(out, v)
			}
		}
	}
	return out
}
