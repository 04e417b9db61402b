package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset/bearing"
)

// bagMap is a plotter of where strikes landed, on the bag as one sees it
// standing over it: the rim is the bag's top, the small circle its bottom, far
// below, and each face has its number outside.
type bagMap struct {
	faces   int
	lengthM float64
	bands   []bandEdge
	strikes []landing
}

type landing struct{ bearingDeg, heightM float64 }

// innerShare is the radius of the bag's bottom against that of its top.
const innerShare = 0.28

// Plot draws the map into the canvas. It implements plot.Plotter.
func (m bagMap) Plot(c draw.Canvas, _ *plot.Plot) {
	centre := vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: (c.Min.Y + c.Max.Y) / 2}
	rim := min(c.Max.X-c.Min.X, c.Max.Y-c.Min.Y)/2 - 2*fontSize
	radius := func(heightM float64) vg.Length {
		share := max(0, min(1, heightM/m.lengthM))
		return rim * vg.Length(innerShare+(1-innerShare)*share)
	}
	at := func(deg float64, r vg.Length) vg.Point {
		s, k := math.Sincos(bearing.Rad(deg))
		return vg.Point{X: centre.X + r*vg.Length(s), Y: centre.Y + r*vg.Length(k)}
	}
	for i, b := range m.bands {
		if i%2 == 1 {
			c.SetColor(shade.colour())
			c.Fill(annulus(centre, radius(b.fromM), radius(b.toM)))
		}
	}
	half := 180 / float64(m.faces)
	for f := range m.faces {
		edge := bearing.FaceCentre(f+1, m.faces) + half
		inner, outer := at(edge, radius(0)), at(edge, rim)
		c.StrokeLine2(line(faint, 0.8), inner.X, inner.Y, outer.X, outer.Y)
		c.FillText(textStyle(1.2*fontSize, ink, text.XCenter, text.YCenter), at(edge-half, rim+fontSize), fmt.Sprint(f+1))
	}
	var where []vg.Point
	for _, s := range m.strikes {
		where = append(where, at(s.bearingDeg, radius(s.heightM)))
	}
	marks(c, right, 1.5, where)
	ring(c, centre, radius(0), line(ink, 0.8))
	ring(c, centre, rim, line(ink, 1.8))
	c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YCenter), vg.Point{X: centre.X, Y: centre.Y + 0.6*fontSize}, "bottom")
	c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YCenter), vg.Point{X: centre.X, Y: centre.Y - 0.6*fontSize}, "edge")
}

// annulus is the path between two circles; the inner one runs the other way
// round, so that it is left out.
func annulus(centre vg.Point, inner, outer vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: centre.X + outer, Y: centre.Y})
	p.Arc(centre, outer, 0, 2*math.Pi)
	p.Close()
	p.Move(vg.Point{X: centre.X + inner, Y: centre.Y})
	p.Arc(centre, inner, 0, -2*math.Pi)
	p.Close()
	return p
}

// bagMapFigure draws where the strikes of a section landed.
func bagMapFigure(s section) Figure {
	m := bagMap{faces: s.faces, lengthM: s.lengthM, bands: s.bands}
	f := Figure{Name: figureName("landed", s.group.Rig), Heads: strikeHeads("true_bearing_deg", "true_height_m"), width: 240, height: 240}
	for _, i := range s.strikes {
		t := s.c.Strikes[i].Truth
		if !math.IsNaN(t.BearingDeg) && !math.IsNaN(t.HeightM) {
			m.strikes = append(m.strikes, landing{t.BearingDeg, t.HeightM})
			f.Rows = append(f.Rows, s.strikeRow(i, t.BearingDeg, t.HeightM))
		}
	}
	p := plot.New()
	p.HideAxes()
	p.BackgroundColor = nil
	p.Add(m)
	f.paint = p.Draw
	f.Title = fmt.Sprintf("Where the %d strikes landed, on the bag seen from above: %s", len(m.strikes), s.landed())
	return f
}
