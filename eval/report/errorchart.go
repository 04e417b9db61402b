package report

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset/bearing"
)

// aroundChart is a chart of signed errors against the true bearing: faces side by
// side, from the one at bearing 0 on, each with its median.
type aroundChart struct {
	words  string
	most   float64 // error at the edge
	bend   float64
	ticks  []float64
	faces  int
	points []aroundPoint
}

type aroundPoint struct {
	strike    int // position in the comparison
	deg, err  float64
	role      role
	face      int
	turnedDeg float64 // from the start of face 1
}

// newAround gathers the errors of a detector; of picks the error, NaN for none.
func newAround(s section, detector int, a aroundChart, of func(strike int) (err float64, r role)) aroundChart {
	a.faces = s.faces
	for _, i := range s.strikes {
		err, r := of(i)
		t := s.c.Strikes[i].Truth
		if math.IsNaN(err) || math.IsNaN(t.BearingDeg) {
			continue
		}
		half := 180 / float64(s.faces)
		a.points = append(a.points, aroundPoint{i, t.BearingDeg, err, r, bearing.FaceOf(t.BearingDeg, s.faces), bearing.Wrap360(t.BearingDeg + half)})
	}
	return a
}

func (a aroundChart) draw(c draw.Canvas) {
	f := newFrame(c, linear(0, 360), bentScale(a.most, a.bend))
	width := 360 / float64(a.faces)
	for k := range a.faces {
		if k%2 == 1 {
			from, to := f.at(float64(k)*width, 0).X, f.at(float64(k+1)*width, 0).X
			c.SetColor(shade.colour())
			c.Fill(rectangle(from, f.bottom, to, f.top))
		}
		c.FillText(textStyle(0.85*fontSize, ink, text.XCenter, text.YTop), vg.Point{X: f.at((float64(k)+0.5)*width, 0).X, Y: f.bottom - 0.5*fontSize}, fmt.Sprint(k+1))
	}
	f.along("face struck, clockwise seen from above", nil, nil)
	f.up(a.words, a.ticks, minus)
	c.StrokeLine2(line(ink, 0.8), f.left, f.at(0, 0).Y, f.right, f.at(0, 0).Y)
	at := map[role][]vg.Point{}
	byFace := make([][]float64, a.faces)
	for _, p := range a.points {
		at[p.role] = append(at[p.role], f.at(p.turnedDeg, p.err))
		byFace[p.face-1] = append(byFace[p.face-1], p.err)
	}
	byMark(c, 1.4, at)
	for k, errs := range byFace {
		if m := median(errs); !math.IsNaN(m) {
			from, to := f.at((float64(k)+0.15)*width, m), f.at((float64(k)+0.85)*width, m)
			c.StrokeLine2(line(paper, 3.4), from.X, from.Y, to.X, to.Y)
			c.StrokeLine2(line(ink, 1.6), from.X, from.Y, to.X, to.Y)
		}
	}
	f.border()
}

// title says in words what the chart shows.
func (a aroundChart) title(what string) string {
	byFace := make([][]float64, a.faces)
	for _, p := range a.points {
		byFace[p.face-1] = append(byFace[p.face-1], p.err)
	}
	s := what + " against the face struck; medians"
	for k, errs := range byFace {
		s += fmt.Sprintf(" %d: %s", k+1, number(median(errs), 1, 1))
	}
	return s
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	return (x[(n-1)/2] + x[n/2]) / 2
}

// aroundFigures are the errors of one detector against the true bearing.
func aroundFigures(s section, detector int) []Figure {
	name := s.c.Detectors[detector].Name
	half := 180 / float64(s.faces)
	bearings := newAround(s, detector, aroundChart{words: "bearing error, degrees", most: 200, bend: 5, ticks: []float64{-120, -30, -10, 0, 10, 30, 120}},
		func(i int) (float64, role) {
			e := s.c.Scores[detector][i].BearingErrDeg
			return e, errorRole(e, half)
		})
	heights := newAround(s, detector, aroundChart{words: "height error, cm", most: 80, bend: 4, ticks: []float64{-50, -20, -5, 0, 5, 20, 50}},
		func(i int) (float64, role) {
			x := s.c.Scores[detector][i]
			return 100 * x.HeightErrM, bandRole(x.RightBand)
		})
	var out []Figure
	for _, a := range []struct {
		chart      aroundChart
		name, what string
		head       string
		scale      float64
	}{{bearings, "bearing", "Bearing error", "bearing_err_deg", 1}, {heights, "height", "Height error, cm,", "height_err_m", 0.01}} {
		if len(a.chart.points) == 0 {
			continue
		}
		fig := Figure{Name: figureName("error-by-bearing", a.name, s.group.Rig, name), Title: a.chart.title(a.what + " " + s.of(name)),
			Heads: strikeHeads("true_bearing_deg", a.head), width: 170, height: 165, paint: a.chart.draw}
		for _, p := range a.chart.points {
			fig.Rows = append(fig.Rows, s.strikeRow(p.strike, p.deg, a.scale*p.err))
		}
		out = append(out, fig)
	}
	return out
}

// bandRole is the mark of a height error.
func bandRole(rightBand float64) role {
	if rightBand == 1 {
		return right
	}
	return wrong
}
