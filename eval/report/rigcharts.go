package report

import (
	"fmt"
	"io"
	"math"

	"strikerose/eval/advice"
)

// RigChart is one chart about a rig.
type RigChart struct {
	Name  string // fit for a file's name
	Write func(io.Writer, *advice.Sheet) error
}

// RigCharts lists the charts about a rig: the least errors over the wait, what
// goes wrong over the sensor's depth, and the least errors over both the
// sensor's depth and the strike's height.
func RigCharts() []RigChart {
	return []RigChart{
		{"wait", waitChart},
		{"depth", depthChart},
		{"map-bearing", func(w io.Writer, s *advice.Sheet) error {
			return mapChart(w, s, "bearing", "degrees", 1, func(e advice.Error) *float64 { return e.BearingSDDeg })
		}},
		{"map-height", func(w io.Writer, s *advice.Sheet) error {
			return mapChart(w, s, "height", "cm", 100, func(e advice.Error) *float64 { return e.HeightSDM })
		}},
	}
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

func waitChart(w io.Writer, s *advice.Sheet) error {
	x := evenAxis(chartLeft, chartRight, 1000*s.Waits[len(s.Waits)-1].AfterS)
	values := []float64{s.Tolerance.BearingDeg, 100 * s.Tolerance.HeightM}
	for _, v := range s.Waits {
		if e := v.Error.BearingSDDeg; e != nil {
			values = append(values, *e)
		}
		if e := v.Error.HeightSDM; e != nil {
			values = append(values, 100**e)
		}
	}
	y := logAxis(chartBottom, chartTop, values)
	f := newChart(s.Key+": what waiting buys", "workable limit, largest along the bag", "ms after the onset", x)
	f.upAxis(y)
	var bearings, heights []spot
	for _, v := range s.Waits {
		at := x.at(1000 * v.AfterS)
		b, h := spot{x: at}, spot{x: at}
		if e := v.Error.BearingSDDeg; e != nil {
			b.y, b.known = y.at(*e), true
		}
		if e := v.Error.HeightSDM; e != nil {
			h.y, h.known = y.at(100**e), true
		}
		bearings, heights = append(bearings, b), append(heights, h)
	}
	f.curve("workable", bearings)
	f.curve("other", heights)
	if after := s.Whole.AnswerAfterS; after != nil {
		f.line("line", x.at(1000**after), chartTop, x.at(1000**after), chartBottom)
		f.text(x.at(1000**after)+5, chartTop+14, "soft", "both within %s", toleranceWords(s))
	}
	f.legend(chartLeft, "workable", "bearing, degrees")
	f.legend(chartLeft+200, "other", "height, cm")
	return f.writeTo(w, s.Key+": what waiting buys", fmt.Sprintf("Least errors of bearing and height against the time after the onset. %s are reached after %s.", toleranceWords(s), wait(s.Whole.AnswerAfterS)))
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

// mapShades is how many steps of darkness a map has.
const mapShades = 8

// mapChart draws an error over the sensor's depth and the strike's height.
func mapChart(w io.Writer, s *advice.Sheet, what, unit string, scale float64, of func(advice.Error) *float64) error {
	x := evenAxis(chartLeft, chartRight-100, s.Rig.Bag.LengthM)
	x.most = s.Rig.Bag.LengthM // cells end at the bag's ends
	y := evenAxis(chartBottom, chartTop, s.Rig.Bag.LengthM)
	y.most = x.most
	var values []float64
	for _, d := range s.Depths {
		for _, e := range d.Along {
			if v := of(e); v != nil {
				values = append(values, *v*scale)
			}
		}
	}
	shade := logAxis(0, 1, values)
	title := s.Key + ": least error of " + what
	f := newChart(title, "workable limit in "+unit+", by the strike's height in m", "sensor's depth below the top edge, m", x)
	for _, t := range y.ticks {
		if t <= y.most {
			f.text(chartLeft-8, y.at(t)+4, "end", "%s", tickText(t))
		}
	}
	step := s.Rig.Bag.LengthM / float64(len(s.Depths)-1)
	for _, d := range s.Depths {
		left, right := x.at(d.DepthM-step/2), x.at(d.DepthM+step/2)
		for i := range s.Heights {
			e := of(d.Along[i])
			top, bottom := edgeAbove(s, i), edgeBelow(s, i)
			if e == nil {
				f.rect("none", left, y.at(top), right, y.at(bottom), 0)
				continue
			}
			f.cell(left, y.at(top), right, y.at(bottom), shade.at(*e*scale))
		}
	}
	now := x.at(s.Rig.Sensor.DepthM)
	f.line("line", now, chartTop, now, chartBottom)
	for k := range mapShades {
		share := (float64(k) + 0.5) / mapShades
		top := chartBottom - float64(k+1)*20
		f.cell(chartRight-70, top, chartRight-50, top+20, share)
	}
	f.text(chartRight-44, chartBottom+4, "", "%s", tickText(shade.least))
	f.text(chartRight-44, chartBottom-20*mapShades+4, "", "%s", tickText(shade.most))
	f.text(chartRight-70, chartBottom-20*mapShades-14, "soft", "%s", unit)
	return f.writeTo(w, title, fmt.Sprintf("The darker, the larger: least error of the %s in %s over the sensor's depth and the strike's height, from %s to %s. A line marks the sensor's depth now.",
		what, unit, tickText(shade.least), tickText(shade.most)))
}

// cell fills a rectangle the darker the larger the share.
func (f *figure) cell(x1, y1, x2, y2, share float64) {
	k := min(mapShades-1, int(share*mapShades))
	fmt.Fprintf(&f.b, "<rect class=\"cell\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" opacity=\"%.3g\"/>\n",
		px(x1), px(y1), px(x2-x1), px(y2-y1), 0.06+0.94*math.Pow(float64(k)/(mapShades-1), 1.2))
}

// edgeBelow and edgeAbove are the ends of the slice about a sheet's height.
func edgeBelow(s *advice.Sheet, i int) float64 {
	if i == 0 {
		return 0
	}
	return (s.Heights[i-1].HeightM + s.Heights[i].HeightM) / 2
}

func edgeAbove(s *advice.Sheet, i int) float64 {
	if i == len(s.Heights)-1 {
		return s.Rig.Bag.LengthM
	}
	return edgeBelow(s, i+1)
}
