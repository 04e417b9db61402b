package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval"
)

// side is a plotter of errors on the bag seen from the side: up is the true
// height, left and right the error. The error's axis is linear near no error
// and logarithmic far out (inverse hyperbolic sine), so that errors of all
// sizes can be read.
type side struct {
	points  []sidePoint
	ticks   []float64 // of the error, both signs are drawn
	most    float64   // error at the edge
	bend    float64   // error at which the axis turns from linear to logarithmic
	guides  []float64 // errors at which a line is drawn, both signs
	unit    string
	lengthM float64 // of the bag
	bands   []bandEdge
	deadM   []float64
}

type sidePoint struct {
	strike       int // position in the comparison
	err, heightM float64
	role         role
}

// bandEdge is a band's name and where it ends.
type bandEdge struct {
	name       string
	fromM, toM float64
}

// Plot draws the chart into the canvas. It implements plot.Plotter.
func (s side) Plot(c draw.Canvas, _ *plot.Plot) {
	left, right := c.Min.X+1.9*fontSize, c.Max.X-0.6*fontSize
	bottom, top := c.Min.Y+3.4*fontSize, c.Max.Y-0.8*fontSize
	x := func(err float64) vg.Length {
		err = max(-s.most, min(s.most, err))
		return left + (right-left)*vg.Length(0.5+0.5*math.Asinh(err/s.bend)/math.Asinh(s.most/s.bend))
	}
	y := func(heightM float64) vg.Length {
		heightM = max(0, min(s.lengthM, heightM))
		return bottom + (top-bottom)*vg.Length(heightM/s.lengthM)
	}
	for i, b := range s.bands {
		if i%2 == 1 { // every other band stands on a shade
			c.SetColor(shade.colour())
			c.Fill(rectangle(left, y(b.fromM), right, y(b.toM)))
		}
		name := textStyle(0.85*fontSize, ink, text.XCenter, text.YBottom)
		name.Rotation = math.Pi / 2
		c.FillText(name, vg.Point{X: left - 0.3*fontSize, Y: (y(b.fromM) + y(b.toM)) / 2}, b.name)
	}
	for _, g := range s.guides {
		for _, sign := range []float64{-1, 1} {
			c.StrokeLine2(line(faint, 0.7, 2, 2), x(sign*g), bottom, x(sign*g), top)
		}
	}
	c.StrokeLine2(line(ink, 0.7), x(0), bottom, x(0), top)
	byRole := map[role][]vg.Point{}
	for _, p := range s.points {
		byRole[p.role] = append(byRole[p.role], vg.Point{X: x(p.err), Y: y(p.heightM)})
	}
	byMark(c, 1.4, byRole)
	for _, m := range s.deadM {
		c.StrokeLine2(line(ink, 1, 4, 2), left, y(m), right, y(m))
		c.FillText(textStyle(0.85*fontSize, ink, text.XRight, text.YBottom), vg.Point{X: right - 0.3*fontSize, Y: y(m) + 0.1*fontSize}, "dead height")
	}
	c.SetLineStyle(line(ink, 1.2))
	c.Stroke(rectangle(left, bottom, right, top))
	for _, t := range s.ticks {
		for _, sign := range []float64{-1, 1} {
			c.StrokeLine2(line(ink, 0.7), x(sign*t), bottom, x(sign*t), bottom-0.3*fontSize)
			if sign > 0 || t > 0 {
				c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YTop), vg.Point{X: x(sign * t), Y: bottom - 0.5*fontSize}, minus(sign*t))
			}
		}
	}
	c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YTop), vg.Point{X: x(0), Y: bottom - 1.8*fontSize}, s.unit)
}

// minus writes a number with a true minus sign.
func minus(x float64) string {
	if x < 0 {
		return fmt.Sprintf("−%g", -x)
	}
	return fmt.Sprintf("%g", x)
}

func rectangle(x0, y0, x1, y1 vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: x0, Y: y0})
	p.Line(vg.Point{X: x1, Y: y0})
	p.Line(vg.Point{X: x1, Y: y1})
	p.Line(vg.Point{X: x0, Y: y1})
	p.Close()
	return p
}

// bearingSide charts bearing errors in degrees, heightSide height errors in
// centimetres.
func bearingSide(section section, scores []eval.Score) side {
	half := 180 / float64(section.faces)
	s := side{ticks: []float64{0, 10, 30, 120}, most: 200, bend: 5, guides: []float64{half, eval.FlipDeg},
		unit: "bearing error, degrees", lengthM: section.lengthM, bands: section.bands, deadM: section.deadM}
	for j, i := range section.strikes {
		if e, h := scores[j].BearingErrDeg, section.c.Strikes[i].Truth.HeightM; !math.IsNaN(e) && !math.IsNaN(h) {
			s.points = append(s.points, sidePoint{i, e, h, errorRole(e, half)})
		}
	}
	return s
}

func heightSide(section section, scores []eval.Score) side {
	s := side{ticks: []float64{0, 5, 20, 50}, most: min(80, 100*section.lengthM), bend: 4,
		unit: "height error, cm", lengthM: section.lengthM, bands: section.bands, deadM: section.deadM}
	for j, i := range section.strikes {
		if e, h := scores[j].HeightErrM, section.c.Strikes[i].Truth.HeightM; !math.IsNaN(e) && !math.IsNaN(h) {
			s.points = append(s.points, sidePoint{i, 100 * e, h, bandRole(scores[j].RightBand)})
		}
	}
	return s
}

// sideFigures are the errors of one detector against the true height.
func sideFigures(s section, detector int, row eval.Row) []Figure {
	name, scores := s.c.Detectors[detector].Name, s.scores(detector)
	var out []Figure
	for _, x := range []struct {
		side              side
		name, head, title string
		scale             float64
	}{
		{bearingSide(s, scores), "bearing", "bearing_err_deg", fmt.Sprintf("Bearing errors %s against the true height: %s%s", s.of(name), bearingWords(row), s.deadWords()), 1},
		{heightSide(s, scores), "height", "height_err_m", fmt.Sprintf("Height errors %s against the true height: %s cm off on average, bias %s cm%s", s.of(name),
			number(row.Figure(eval.HeightMAE).Value, 100, 1), number(row.Figure("height_bias_m").Value, 100, 1), s.deadWords()), 0.01},
	} {
		if len(x.side.points) == 0 {
			continue
		}
		p := plot.New()
		p.HideAxes()
		p.BackgroundColor = nil
		p.Add(x.side)
		f := Figure{Name: figureName("error-by-height", x.name, s.group.Rig, name), Title: x.title, Heads: strikeHeads("true_height_m", x.head), width: 170, height: 165, paint: p.Draw}
		for _, point := range x.side.points {
			f.Rows = append(f.Rows, s.strikeRow(point.strike, point.heightM, x.scale*point.err))
		}
		out = append(out, f)
	}
	return out
}
