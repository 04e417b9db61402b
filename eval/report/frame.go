package report

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// frame is the rectangle of a chart with its two axes, whose scales are set by
// the chart: 0 is the left or lower end, 1 the right or upper one.
type frame struct {
	canvas                   draw.Canvas
	left, right, bottom, top vg.Length
	x, y                     func(float64) float64
}

// newFrame leaves room for ticks and titles around it.
func newFrame(c draw.Canvas, x, y func(float64) float64) frame {
	return frame{c, c.Min.X + 3.2*fontSize, c.Max.X - 1.2*fontSize, c.Min.Y + 3.6*fontSize, c.Max.Y - 2*fontSize, x, y}
}

// at is where a pair of values lies; values beyond the axes lie on their ends.
func (f frame) at(x, y float64) vg.Point {
	return vg.Point{X: f.left + (f.right-f.left)*vg.Length(within01(f.x(x))), Y: f.bottom + (f.top-f.bottom)*vg.Length(within01(f.y(y)))}
}

func within01(x float64) float64 { return max(0, min(1, x)) }

// along marks values on the lower axis, with their words, and names it.
func (f frame) along(name string, values []float64, words func(float64) string) {
	tick := textStyle(0.85*fontSize, ink, text.XCenter, text.YTop)
	for _, v := range values {
		x := f.at(v, 0).X
		f.canvas.StrokeLine2(line(ink, 0.7), x, f.bottom, x, f.bottom-0.3*fontSize)
		f.canvas.FillText(tick, vg.Point{X: x, Y: f.bottom - 0.5*fontSize}, words(v))
	}
	f.canvas.FillText(tick, vg.Point{X: (f.left + f.right) / 2, Y: f.bottom - 1.9*fontSize}, name)
}

// up marks values on the left axis, with guides through the chart, and writes its
// name above it.
func (f frame) up(name string, values []float64, words func(float64) string) {
	tick := textStyle(0.85*fontSize, ink, text.XRight, text.YCenter)
	for _, v := range values {
		y := f.at(0, v).Y
		f.canvas.StrokeLine2(line(faint, 0.4), f.left, y, f.right, y)
		f.canvas.FillText(tick, vg.Point{X: f.left - 0.4*fontSize, Y: y}, words(v))
	}
	f.canvas.FillText(textStyle(fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: f.left, Y: f.canvas.Max.Y - 1.2*fontSize}, name)
}

// border draws the rectangle.
func (f frame) border() {
	f.canvas.SetLineStyle(line(ink, 1))
	f.canvas.Stroke(rectangle(f.left, f.bottom, f.right, f.top))
}

// linear is the scale from a to b; logarithmic likewise of numbers above 0.
func linear(a, b float64) func(float64) float64 {
	return func(v float64) float64 { return (v - a) / (b - a) }
}

func logarithmic(a, b float64) func(float64) float64 {
	return func(v float64) float64 { return math.Log(math.Max(v, a)/a) / math.Log(b/a) }
}

// bentScale is linear in the middle, up to some bend, and logarithmic outside,
// from -most to most (inverse hyperbolic sine).
func bentScale(most, bend float64) func(float64) float64 {
	return func(v float64) float64 { return 0.5 + 0.5*math.Asinh(v/bend)/math.Asinh(most/bend) }
}

// roundTicks are three to eleven round values from low to high, in steps of 1, 2 or
// 5 times a power of ten.
func roundTicks(low, high float64) []float64 {
	if !(high > low) || math.IsInf(high-low, 0) {
		return nil
	}
	const least = 3
	decade := math.Pow(10, math.Floor(math.Log10(high-low)))
	step := decade
	for _, s := range []float64{1, 0.5, 0.2, 0.1} {
		if step = s * decade; math.Floor(high/step)-math.Ceil(low/step)+1 >= least {
			break
		}
	}
	var out []float64
	for k := math.Ceil(low / step); k <= math.Floor(high/step); k++ {
		v, _ := strconv.ParseFloat(strconv.FormatFloat(k*step, 'g', 6, 64), 64) // 0.3, not 0.30000000000000004
		out = append(out, v+0)                                                  // no negative zero
	}
	return out
}

// short writes a tick's value with few digits.
func short(v float64) string { return fmt.Sprintf("%.3g", v) }

// byMark draws marks of the roles of errors, the right ones below the others.
func byMark(c draw.Canvas, size vg.Length, at map[role][]vg.Point) {
	for r := ink; r <= paper; r++ {
		marks(c, r, size, at[r])
	}
}
