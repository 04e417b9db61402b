package traces

import (
	"fmt"
	"image/color"
	"math"
	"math/cmplx"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// pathMs is how much of the path is drawn, ms after the onset: beyond, what
// gravity adds as the bag tilts outweighs the motion.
const pathMs = 150.0

// dotMs is the time between the path's dots.
const dotMs = 10

// path is how far the sensor went after the onset, y + i x in metres, one
// place a sample: the horizontal specific force integrated twice by the
// trapezoid rule. The motion that the bag had before, and the tilt, are left out.
func path(w *dataset.Window) []complex128 {
	step := 1 / w.RateHz
	n := min(int(pathMs*w.RateHz/1000)+1, w.Post())
	out := make([]complex128, n)
	var speed complex128
	for i := 1; i < n; i++ {
		j := w.Pre + i
		before := speed
		speed += complex(step/2*(w.A[1][j-1]+w.A[1][j]), step/2*(w.A[0][j-1]+w.A[0][j]))
		out[i] = out[i-1] + complex(step/2, 0)*(before+speed)
	}
	return out
}

// Path draws the path of the sensor after a strike, seen from above, in a
// ring with the bag's faces. Where the label says from where the strike came, an
// arrow shows it.
func Path(s Struck, r *rig.Rig) Picture {
	places := path(s.Window)
	most := 0.0
	for _, z := range places {
		most = max(most, cmplx.Abs(z))
	}
	const width, height = 460, 500
	pushDeg := bearing.Wrap360(bearing.Deg(cmplx.Phase(push(s.Window))))
	return Picture{
		Title: fmt.Sprintf("Session %s, strike %d: the sensor's path seen from above", s.Session, s.Window.Strike.Number),
		About: fmt.Sprintf("In the %d ms after the onset the sensor moved at most %.0f mm from where it was, at first toward bearing %.0f degrees%s.",
			int(pathMs), 1000*most, pushDeg, s.place()),
		width: width, height: height,
		paint: func(c draw.Canvas) {
			centre := vg.Point{X: width / 2, Y: height/2 - 4}
			const ring = vg.Length(178)
			at := func(deg float64, size vg.Length) vg.Point {
				sin, cos := math.Sincos(bearing.Rad(deg))
				return vg.Point{X: centre.X + size*vg.Length(sin), Y: centre.Y + size*vg.Length(cos)}
			}
			circle := func(size vg.Length, look draw.LineStyle) {
				var p vg.Path
				p.Move(vg.Point{X: centre.X + size, Y: centre.Y})
				p.Arc(centre, size, 0, 2*math.Pi)
				c.SetLineStyle(look)
				c.Stroke(p)
			}
			circle(ring, stroke(ink, 1.2))
			for face := 1; face <= r.Faces; face++ {
				middle := bearing.FaceCentre(face, r.Faces)
				edge := middle + 180/float64(r.Faces)
				a, b := at(edge, ring-7), at(edge, ring+7)
				c.StrokeLine2(stroke(ink, 1), a.X, a.Y, b.X, b.Y)
				c.FillText(style(textSize+1, ink, text.XCenter, text.YCenter), at(middle, ring+16), fmt.Sprintf("face %d", face))
			}
			// Circles of equal distance, named where the path does not go.
			full := 1.4 * max(most, 1e-4)
			scale := func(m float64) vg.Length { return ring * vg.Length(m/full) }
			for _, m := range (span{0, full}).ticks(4) {
				if m == 0 || m > 0.95*full {
					continue
				}
				circle(scale(m), stroke(faint, 0.5))
				c.FillText(style(0.9*textSize, ink, text.XCenter, text.YCenter), at(pushDeg+90, scale(m)), fmt.Sprintf("%.4g mm", 1000*m))
			}
			if !math.IsNaN(s.BearingDeg) {
				arrow(c, at(s.BearingDeg, ring+2), at(s.BearingDeg, ring-30))
			}
			onPaper := func(z complex128) vg.Point {
				return vg.Point{X: centre.X + scale(imag(z)), Y: centre.Y + scale(real(z))}
			}
			var p vg.Path
			p.Move(centre)
			for _, z := range places[1:] {
				p.Line(onPaper(z))
			}
			c.SetLineStyle(stroke(blue, 1.6))
			c.Stroke(p)
			// Times stand beside the path, across its way on the whole, and further off
			// where it leads up or down, as words are wider than high.
			sin, cos := math.Sincos(cmplx.Phase(places[len(places)-1]))
			beside := vg.Point{X: -20 * vg.Length(cos), Y: 10 * vg.Length(sin)}
			for ms := 0; ms <= int(pathMs); ms += dotMs {
				i := int(math.Round(float64(ms) / 1000 * s.Window.RateHz))
				if i >= len(places) {
					break
				}
				dot(c, onPaper(places[i]), 2.4, blue)
				if ms%50 == 0 && ms > 0 {
					c.FillText(style(0.9*textSize, ink, text.XCenter, text.YCenter), onPaper(places[i]).Add(beside), fmt.Sprintf("%d ms", ms))
				}
			}
			foot := fmt.Sprintf("A dot every %d ms; force integrated twice, earlier motion and tilt left out", dotMs)
			if !math.IsNaN(s.BearingDeg) {
				foot += "; arrow: labelled strike"
			}
			c.FillText(style(textSize, ink, text.XCenter, text.YBottom), vg.Point{X: width / 2, Y: 8}, foot)
		},
	}
}

// dot fills a small circle.
func dot(c draw.Canvas, at vg.Point, size vg.Length, fill color.Color) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + size, Y: at.Y})
	p.Arc(at, size, 0, 2*math.Pi)
	p.Close()
	c.SetColor(fill)
	c.Fill(p)
}

// arrow draws a line with a head at its end.
func arrow(c draw.Canvas, from, to vg.Point) {
	c.StrokeLine2(stroke(orange, 2.4), from.X, from.Y, to.X, to.Y)
	along := to.Sub(from)
	along = along.Scale(9 / vg.Length(math.Hypot(float64(along.X), float64(along.Y))))
	side := vg.Point{X: -along.Y, Y: along.X}.Scale(0.5)
	var p vg.Path
	p.Move(to.Add(along))
	p.Line(to.Add(side))
	p.Line(to.Sub(side))
	p.Close()
	c.SetColor(orange)
	c.Fill(p)
}
