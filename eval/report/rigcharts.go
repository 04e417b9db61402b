package report

import (
	"io"
	"math"
	"slices"

	"strikerose/eval/advice"
	"strikerose/eval/bound"
)

// RigChart is one chart about a rig.
type RigChart struct {
	Name  string // fit for a file's name
	Write func(io.Writer) error
}

// RigCharts lists the charts about a rig: what goes wrong over the sensor's
// depth, and the least errors along the bag, over the wait, and over both the
// sensor's depth and the strike's height. An error that can be told nowhere has
// no chart.
func RigCharts(s *advice.Sheet) []RigChart {
	out := []RigChart{{"depth", func(w io.Writer) error { return depthChart(w, s) }}}
	along, waits, depths := alongLines(s), waitLines(s), depthMap(s)
	for _, c := range []struct {
		name string
		of   BoundOf
	}{{"bearing", BoundBearing}, {"height", BoundHeight}} {
		for _, x := range []RigChart{
			{"bag-" + c.name, func(w io.Writer) error { return BoundBagSVG(w, along, c.of) }},
			{"wait-" + c.name, func(w io.Writer) error { return BoundWaitSVG(w, waitTimes(s), waits, c.of) }},
			{"map-" + c.name, func(w io.Writer) error { return BoundMapSVG(w, depths, c.of) }},
		} {
			if toldAnywhere(along, c.of) && toldAnywhere(waits, c.of) {
				out = append(out, x)
			}
		}
	}
	return out
}

// leastOf turns a sheet's error back into a bound.
func leastOf(heightM float64, e advice.Error) bound.Least {
	l := bound.Least{HeightM: heightM, BearingSDDeg: math.Inf(1), HeightSDM: math.Inf(1)}
	if e.BearingSDDeg != nil {
		l.BearingSDDeg = *e.BearingSDDeg
	}
	if e.HeightSDM != nil {
		l.HeightSDM = *e.HeightSDM
	}
	return l
}

func alongLines(s *advice.Sheet) []BoundLine {
	workable, limit := BoundLine{Name: "workable limit"}, BoundLine{Name: "sensor's limit"}
	for _, h := range s.Heights {
		workable.Least = append(workable.Least, leastOf(h.HeightM, h.WorkableLimit))
		limit.Least = append(limit.Least, leastOf(h.HeightM, h.SensorLimit))
	}
	return []BoundLine{workable, limit}
}

func waitTimes(s *advice.Sheet) []float64 {
	var out []float64
	for _, x := range s.Waits {
		out = append(out, x.AfterS)
	}
	return out
}

func waitLines(s *advice.Sheet) []BoundLine {
	l := BoundLine{Name: "workable limit, largest along the bag"}
	for _, x := range s.Waits {
		l.Least = append(l.Least, leastOf(0, x.Error))
	}
	return []BoundLine{l}
}

// depthMap picks some 12 by 12 of the sheet's depths and heights.
func depthMap(s *advice.Sheet) bound.Map {
	everyDepth, everyHeight := max(1, len(s.Depths)/12), max(1, (len(s.Heights)+6)/12)
	var m bound.Map
	for i, d := range s.Depths {
		if i%everyDepth != 0 || i/everyDepth > 12 {
			continue
		}
		m.DepthsM = append(m.DepthsM, d.DepthM)
		var row []bound.Least
		for k, h := range s.Heights {
			if k%everyHeight == everyHeight/2 {
				row = append(row, leastOf(h.HeightM, d.Along[k]))
			}
		}
		m.Least = append(m.Least, row)
	}
	for k, h := range s.Heights {
		if k%everyHeight == everyHeight/2 {
			m.HeightsM = append(m.HeightsM, h.HeightM)
		}
	}
	return m
}

// toldAnywhere tells whether any point of some lines is known.
func toldAnywhere(lines []BoundLine, of BoundOf) bool {
	return slices.ContainsFunc(lines, func(l BoundLine) bool {
		return slices.ContainsFunc(l.Least, func(x bound.Least) bool { return !math.IsInf(of.value(x), 1) })
	})
}

// Sizes of a chart in pixels.
const (
	chartWidth, chartHeight = 640, 400
	chartLeft, chartRight   = 70, 620
	chartTop, chartBottom   = 70, 340
)

// newChart begins a chart with its heads and its axis to the right.
func newChart(title, sub, below string, x axis) *figure {
	f := &figure{width: chartWidth, height: chartHeight}
	f.text(24, 32, "head", "%s", title)
	f.text(24, 52, "soft", "%s", sub)
	f.rect("thin", x.from, chartTop, x.to, chartBottom, 0)
	for _, t := range x.ticks {
		f.line("thin", x.at(t), chartBottom, x.at(t), chartBottom+5)
		f.text(x.at(t), chartBottom+18, "mid", "%s", tickText(t))
	}
	f.text((x.from+x.to)/2, chartBottom+36, "soft mid", "%s", below)
	return f
}

// upAxis draws the ticks of an axis upward.
func (f *figure) upAxis(a axis) {
	for _, t := range a.ticks {
		f.line("thin", chartLeft, a.at(t), chartRight, a.at(t))
		f.text(chartLeft-8, a.at(t)+4, "end", "%s", tickText(t))
	}
}

// legend names curves in a row below the chart.
func (f *figure) legend(at float64, class, name string) {
	f.line(class, at, chartHeight-12, at+26, chartHeight-12)
	f.text(at+32, chartHeight-8, "soft", "%s", name)
}

func depthChart(w io.Writer, s *advice.Sheet) error {
	x := evenAxis(chartLeft, chartRight, s.Rig.Bag.LengthM)
	most := 10.0
	for _, d := range s.Depths {
		most = max(most, 100*d.MisplacedShare, 100*d.FlipShare, 100*d.ClippedShare)
	}
	y := evenAxis(chartBottom, chartTop, most)
	f := newChart(s.Key+": where to put the sensor", "of 100 strikes, even along the bag", "sensor's depth below the top edge, m", x)
	f.upAxis(y)
	for _, c := range []struct {
		class string
		of    func(advice.Depth) float64
	}{
		{"other", func(d advice.Depth) float64 { return d.FlipShare }},
		{"limit", func(d advice.Depth) float64 { return d.ClippedShare }},
		{"workable", func(d advice.Depth) float64 { return d.MisplacedShare }},
	} {
		var spots []spot
		for _, d := range s.Depths {
			spots = append(spots, spot{x.at(d.DepthM), y.at(100 * c.of(d)), true})
		}
		f.curve(c.class, spots)
	}
	now := x.at(s.Rig.Sensor.DepthM)
	f.line("line", now, chartTop, now, chartBottom)
	f.text(now+5, chartTop+14, "soft", "now %.2f m", s.Rig.Sensor.DepthM)
	f.legend(chartLeft, "workable", "misplaced at the workable limit")
	f.legend(chartLeft+230, "other", "flips")
	f.legend(chartLeft+330, "limit", "clipped when hard")
	return f.writeTo(w, s.Key+": where to put the sensor", "Strikes of a hundred that are misplaced by the best detector, flipped by peak and arctangent, or clipped when hard, against the sensor's depth.")
}
