package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset/bearing"
	"strikerose/eval"
)

// roseBins is the number of petals of a rose, each 10 degrees wide, the first
// one centred on no error.
const roseBins = 36

// rose is a plotter of bearing errors on the bag seen from above: up is no
// error, clockwise is an answer too far clockwise. A petal's area goes with
// the share of strikes in it; the rim is all of them.
type rose struct {
	shares  [roseBins]float64
	biasDeg float64 // NaN to mark none
	halfDeg float64 // half a face
}

func newRose(scores []eval.Score, faces int) rose {
	r := rose{biasDeg: math.NaN(), halfDeg: 180 / float64(faces)}
	n := 0
	for _, s := range scores {
		if math.IsNaN(s.BearingErrDeg) {
			continue
		}
		bin := int(math.Round(bearing.Wrap360(s.BearingErrDeg)/360*roseBins)) % roseBins
		r.shares[bin]++
		n++
	}
	for i := range r.shares {
		r.shares[i] /= float64(max(1, n))
	}
	return r
}

// Plot draws the rose into the canvas. It implements plot.Plotter.
func (r rose) Plot(c draw.Canvas, _ *plot.Plot) {
	centre := vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: (c.Min.Y + c.Max.Y) / 2}
	radius := min(c.Max.X-c.Min.X, c.Max.Y-c.Min.Y)/2 - 2.6*fontSize
	at := func(deg float64, share float64) vg.Point { // share is that of the rim's radius
		s, k := math.Sincos(bearing.Rad(deg))
		return vg.Point{X: centre.X + radius*vg.Length(share*s), Y: centre.Y + radius*vg.Length(share*k)}
	}
	sector := func(fromDeg, toDeg, share float64) vg.Path {
		var p vg.Path
		p.Move(centre)
		p.Arc(centre, radius*vg.Length(share), bearing.Rad(90-fromDeg), -bearing.Rad(toDeg-fromDeg))
		p.Close()
		return p
	}
	c.SetColor(shade.colour())
	c.Fill(sector(-r.halfDeg, r.halfDeg, 1))
	for _, share := range []float64{0.1, 0.4} {
		ring(c, centre, radius*vg.Length(math.Sqrt(share)), line(faint, 0.5))
	}
	for _, deg := range []float64{-eval.FlipDeg, -r.halfDeg, r.halfDeg, eval.FlipDeg} {
		c.StrokeLine2(line(faint, 0.7, 2, 2), centre.X, centre.Y, at(deg, 1).X, at(deg, 1).Y)
		s, k := math.Sincos(bearing.Rad(deg))
		c.FillText(textStyle(0.85*fontSize, ink, text.XAlignment(outward(s)), text.YAlignment(outward(k))), at(deg, 1.05), fmt.Sprintf("%+.0f°", deg))
	}
	for i, share := range r.shares {
		deg := 360 * float64(i) / roseBins
		c.SetColor(errorRole(deg, r.halfDeg).colour())
		if share > 0 {
			c.Fill(sector(deg-180.0/roseBins, deg+180.0/roseBins, math.Sqrt(share)))
		}
	}
	ring(c, centre, radius, line(ink, 1.6))
	c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YBottom), at(0, 1.04), "0°")
	if !math.IsNaN(r.biasDeg) {
		c.StrokeLine2(line(ink, 2), at(r.biasDeg, 0.88).X, at(r.biasDeg, 0.88).Y, at(r.biasDeg, 1).X, at(r.biasDeg, 1).Y)
	}
}

// errorRole is the colour of a bearing error.
func errorRole(deg, halfFaceDeg float64) role {
	switch size := math.Abs(bearing.Wrap180(deg)); {
	case size > eval.FlipDeg:
		return flip
	case size > halfFaceDeg:
		return wrong
	}
	return right
}

func ring(c draw.Canvas, centre vg.Point, radius vg.Length, style draw.LineStyle) {
	var p vg.Path
	p.Move(vg.Point{X: centre.X + radius, Y: centre.Y})
	p.Arc(centre, radius, 0, 2*math.Pi)
	p.Close()
	c.SetLineStyle(style)
	c.Stroke(p)
}

// outward aligns a word at the rim outside it, given the component along one
// axis of where it stands: gonum's alignments are 0 for left or bottom, -1/2
// for the centre and -1 for right or top.
func outward(component float64) float64 {
	switch {
	case component > 0.3:
		return 0
	case component < -0.3:
		return -1
	}
	return -0.5
}

// roseFigure draws the rose of one detector on a section's rig.
func roseFigure(s section, detector int, row eval.Row) Figure {
	name := s.c.Detectors[detector].Name
	r := newRose(s.scores(detector), s.faces)
	r.biasDeg = row.Figure("bearing_bias_deg").Value
	p := plot.New()
	p.HideAxes()
	p.BackgroundColor = nil
	p.Add(r)
	f := Figure{Name: figureName("rose", s.group.Rig, name), Heads: []string{"error_from_deg", "error_to_deg", "share"}, width: 165, height: 165, paint: p.Draw,
		Title: fmt.Sprintf("Rose of the bearing errors %s, seen from above: %s", s.of(name), bearingWords(row))}
	for i, share := range r.shares {
		deg := bearing.Wrap180(360 * float64(i) / roseBins)
		f.Rows = append(f.Rows, []string{plain(deg - 180.0/roseBins), plain(deg + 180.0/roseBins), plain(share)})
	}
	return f
}

// bearingWords sums a detector's bearings up.
func bearingWords(row eval.Row) string {
	return fmt.Sprintf("%s° off on average, %s %% flips", number(row.Figure(eval.BearingMAE).Value, 1, 1), number(row.Figure("flip_share").Value, 100, 1))
}
