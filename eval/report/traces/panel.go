package traces

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// span is a range of values.
type span struct{ low, high float64 }

// spanOf holds all finite values and 0, with a little room.
func spanOf(columns ...[]float64) span {
	s := span{}
	for _, column := range columns {
		for _, v := range column {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				s.low, s.high = min(s.low, v), max(s.high, v)
			}
		}
	}
	if s.low == s.high {
		s.high = s.low + 1
	}
	room := 0.05 * (s.high - s.low)
	if s.low < 0 {
		s.low -= room
	}
	s.high += room
	return s
}

// ticks are round values inside a span, about as many as asked.
func (s span) ticks(about int) []float64 {
	step := math.Pow(10, math.Floor(math.Log10((s.high-s.low)/float64(about))))
	for _, by := range []float64{1, 2, 5, 10} {
		if (s.high-s.low)/(by*step) <= float64(about) {
			step *= by
			break
		}
	}
	var out []float64
	for k := math.Ceil(s.low / step); k*step <= s.high; k++ {
		out = append(out, k*step+0) // no negative zero
	}
	return out
}

// panel is a rectangle with two linear axes.
type panel struct {
	canvas                   draw.Canvas
	left, right, bottom, top vg.Length
	x, y                     span
}

// at is where a pair of values lies; values beyond the axes lie on their ends.
func (p panel) at(x, y float64) vg.Point {
	part := func(v float64, s span) vg.Length {
		return vg.Length(max(0, min(1, (v-s.low)/(s.high-s.low))))
	}
	return vg.Point{X: p.left + (p.right-p.left)*part(x, p.x), Y: p.bottom + (p.top-p.bottom)*part(y, p.y)}
}

// axes draws frame, guides, ticks and names; an empty name of the lower axis
// leaves its ticks without words.
func (p panel) axes(across, up string) {
	c := p.canvas
	for _, v := range p.x.ticks(10) {
		x := p.at(v, 0).X
		c.StrokeLine2(stroke(faint, 0.4), x, p.bottom, x, p.top)
		if across != "" {
			c.FillText(style(textSize, ink, text.XCenter, text.YTop), vg.Point{X: x, Y: p.bottom - 3}, plain(v))
		}
	}
	for _, v := range p.y.ticks(5) {
		y := p.at(0, v).Y
		width := vg.Length(0.4)
		if v == 0 {
			width = 0.9
		}
		c.StrokeLine2(stroke(faint, width), p.left, y, p.right, y)
		c.FillText(style(textSize, ink, text.XRight, text.YCenter), vg.Point{X: p.left - 4, Y: y}, plain(v))
	}
	if across != "" {
		c.FillText(style(textSize, ink, text.XCenter, text.YTop), vg.Point{X: (p.left + p.right) / 2, Y: p.bottom - 14}, across)
	}
	named := style(textSize, ink, text.XCenter, text.YTop)
	named.Rotation = math.Pi / 2
	c.FillText(named, vg.Point{X: p.left - leftRoom + 14, Y: (p.bottom + p.top) / 2}, up)
}

// frame draws the panel's edge, over what lies in it.
func (p panel) frame() {
	p.canvas.SetLineStyle(stroke(ink, 0.8))
	p.canvas.Stroke(rectangle(p.left, p.bottom, p.right, p.top))
}

func plain(v float64) string { return fmt.Sprintf("%.4g", v) }

// line draws values over x; it breaks where a value is no number.
func (p panel) line(look draw.LineStyle, x, y []float64) {
	var path vg.Path
	pen := false
	for i := range y {
		if math.IsNaN(y[i]) {
			pen = false
			continue
		}
		if to := p.at(x[i], y[i]); pen {
			path.Line(to)
		} else {
			path.Move(to)
			pen = true
		}
	}
	p.canvas.SetLineStyle(look)
	p.canvas.Stroke(path)
}

// band fills a range of x.
func (p panel) band(c color.Color, from, to float64) {
	fill(p.canvas, c, p.at(from, 0).X, p.bottom, p.at(to, 0).X, p.top)
}

// upright draws a line at x, with words at its upper end, if any, to its right.
func (p panel) upright(look draw.LineStyle, x float64, words string) {
	at := p.at(x, 0).X
	p.canvas.StrokeLine2(look, at, p.bottom, at, p.top)
	if words != "" {
		p.canvas.FillText(style(0.9*textSize, look.Color, text.XLeft, text.YTop), vg.Point{X: at + 2, Y: p.top - 2}, words)
	}
}

// onset draws the line at 0; named, its word stands to the left, where the bag
// hangs still, clear of the peak.
func (p panel) onset(named bool) {
	p.upright(stroke(ink, 1), 0, "")
	if named {
		p.noteRight(0, "onset")
	}
}

// entry is a line's meaning in a key.
type entry struct {
	words string
	look  draw.LineStyle
}

// key lists entries in a row above the panel, from its right end.
func (p panel) key(entries ...entry) {
	x, y := p.right, p.top+8
	for i := len(entries) - 1; i >= 0; i-- {
		e := entries[i]
		words := style(textSize, ink, text.XRight, text.YCenter)
		p.canvas.FillText(words, vg.Point{X: x, Y: y}, e.words)
		x -= words.Width(e.words) + 4
		p.canvas.StrokeLine2(e.look, x-20, y, x, y)
		x -= 34
	}
}

// stack cuts the room below a title into panels one above the other, of the
// shares given, with gaps between them.
func stack(c draw.Canvas, width, height vg.Length, x span, shares ...float64) []panel {
	const head, foot, gap = vg.Length(44), vg.Length(34), vg.Length(26)
	total := 0.0
	for _, s := range shares {
		total += s
	}
	room := height - head - foot - gap*vg.Length(len(shares)-1)
	top := height - head
	var out []panel
	for _, s := range shares {
		h := room * vg.Length(s/total)
		out = append(out, panel{canvas: c, left: leftRoom, right: width - margin, bottom: top - h, top: top, x: x})
		top -= h + gap
	}
	return out
}

// noteRight writes words at the upper end of x, to its left.
func (p panel) noteRight(x float64, words string) {
	p.canvas.FillText(style(0.9*textSize, ink, text.XRight, text.YTop), vg.Point{X: p.at(x, 0).X - 3, Y: p.top - 2}, words)
}
