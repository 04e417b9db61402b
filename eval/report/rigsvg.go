package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"strikerose/eval/advice"
)

// Sizes of a drawn rig in pixels.
const (
	rigWidth    = 1060
	bagHeight   = 430 // of the tallest bag
	bagWidth    = 190 // of the thickest
	axisX       = 190 // of the bag's axis
	notesX      = 310 // of what is written beside the bag
	panelsX     = 490
	panelWidth  = 145
	panelGap    = 44
	hangHeight  = 110 // of chain and straps at most
	rigHead     = 64
	rigFoot     = 56
	leastLeads  = 17 // between the notes beside the bag
	sensorSize  = 6
	centreSize  = 7
	ringSize    = 4
	bagRounding = 8
)

// RigSVG draws rigs one below the other, all bags to one scale: the bag with
// core, sensor, centre of mass, dead height and bands, and beside it, at the
// same heights, how a blow there kicks the sensor and the least errors.
func RigSVG(w io.Writer, sheets ...*advice.Sheet) error {
	pixelsPerM := math.Inf(1)
	for _, s := range sheets {
		pixelsPerM = min(pixelsPerM, bagHeight/s.Rig.Bag.LengthM, bagWidth/s.Rig.Bag.DiameterM)
	}
	f := &figure{width: rigWidth}
	var titles, abouts []string
	for _, s := range sheets {
		d := &rigPicture{figure: f, s: s, scale: pixelsPerM, ranges: rangesOf(sheets)}
		d.draw(f.height)
		f.height = d.bottom + rigFoot
		titles = append(titles, s.Key)
		abouts = append(abouts, rigWords(s))
	}
	return f.writeTo(w, "Rig "+strings.Join(titles, " and "), strings.Join(abouts, " "))
}

// rigWords describes the drawing to readers who cannot see it.
func rigWords(s *advice.Sheet) string {
	return fmt.Sprintf("%s: a bag %.2f m long and %.2f m thick, sensor at height %.2f m, centre of mass at %.2f m. Dead height: %s",
		s.Key, s.Rig.Bag.LengthM, s.Rig.Bag.DiameterM, s.Rig.Bag.LengthM-s.Rig.Sensor.DepthM, s.Mass.CentreHeightM, strings.Join(deadWords(s), " "))
}

// sheetRange holds what the panels of all rigs span, so that they share their
// scales: kicks over that at the centre of mass, bearing errors in degrees and
// height errors in cm.
type sheetRange struct{ kicks, bearings, heights []float64 }

func rangesOf(sheets []*advice.Sheet) sheetRange {
	var out sheetRange
	for _, s := range sheets {
		for _, h := range s.Heights {
			out.kicks = append(out.kicks, math.Abs(h.AcceleranceKg1*s.Rig.Bag.MassKg))
			for _, e := range []advice.Error{h.SensorLimit, h.WorkableLimit} {
				if e.BearingSDDeg != nil {
					out.bearings = append(out.bearings, *e.BearingSDDeg)
				}
				if e.HeightSDM != nil {
					out.heights = append(out.heights, 100**e.HeightSDM)
				}
			}
		}
	}
	return out
}

// rigPicture draws one rig into a figure.
type rigPicture struct {
	*figure
	s           *advice.Sheet
	scale       float64 // pixels a metre
	ranges      sheetRange
	top, bottom float64 // of the bag
	half        float64 // its half width
}

// y is where a height lies.
func (d *rigPicture) y(heightM float64) float64 { return d.bottom - heightM*d.scale }

func (d *rigPicture) draw(from float64) {
	r := d.s.Rig
	d.text(24, from+32, "head", "%s", d.s.Key)
	d.text(24, from+50, "soft", "%.4g kg, %.2f m long, %.2f m thick; heights in m above the bottom edge", r.Bag.MassKg, r.Bag.LengthM, r.Bag.DiameterM)
	strap := min(r.Hang.StrapM*d.scale, hangHeight/2)
	chain := min(r.Hang.ChainM*d.scale, hangHeight-strap)
	d.half = r.Bag.DiameterM * d.scale / 2
	swivel := from + rigHead + 14
	ring := swivel + chain
	d.top = ring + strap
	d.bottom = d.top + r.Bag.LengthM*d.scale
	d.hanging(swivel, ring)
	d.bands()
	d.bag()
	d.kicks()
	d.errorPanel(1, "Least bearing error", "degrees", d.ranges.bearings, func(e advice.Error) *float64 { return e.BearingSDDeg }, 1)
	d.errorPanel(2, "Least height error", "cm", d.ranges.heights, func(e advice.Error) *float64 { return e.HeightSDM }, 100)
	d.notes(swivel, ring)
	d.line("workable", panelsX+panelWidth+panelGap, d.bottom+40, panelsX+panelWidth+panelGap+26, d.bottom+40)
	d.text(panelsX+panelWidth+panelGap+32, d.bottom+44, "soft", "workable limit")
	d.line("limit", panelsX+panelWidth+panelGap+130, d.bottom+40, panelsX+panelWidth+panelGap+156, d.bottom+40)
	d.text(panelsX+panelWidth+panelGap+162, d.bottom+44, "soft", "sensor's limit")
}

func (d *rigPicture) hanging(swivel, ring float64) {
	d.line("line", axisX-40, swivel, axisX+40, swivel)
	for x := axisX - 36.0; x <= axisX+40; x += 10 {
		d.line("lead", x, swivel, x+7, swivel-7)
	}
	d.line("chain", axisX, swivel, axisX, ring)
	d.line("line", axisX, ring, axisX-0.8*d.half, d.top)
	d.line("line", axisX, ring, axisX+0.8*d.half, d.top)
	d.circle("centre", axisX, ring, ringSize)
}

// bands draws the scale of heights with the bands' edges across all panels.
func (d *rigPicture) bands() {
	end := panelsX + 3*panelWidth + 2*panelGap
	last := math.Inf(1)
	for i, b := range d.s.Bands {
		if i > 0 {
			d.line("thin", 66, d.y(b.FromM), float64(end), d.y(b.FromM))
		}
		if y := d.y(b.FromM) + 4; last-y >= 12 {
			d.text(60, y, "end", "%.2f", b.FromM)
			last = y
		}
		if height := (b.ToM - b.FromM) * d.scale; height >= 30 {
			d.text(60, d.y((b.FromM+b.ToM)/2)+4, "soft end", "%s", clip(b.Name, 8))
		}
	}
	d.text(60, d.top+4, "end", "%.2f", d.s.Rig.Bag.LengthM)
}

func (d *rigPicture) bag() {
	s, r := d.s, d.s.Rig
	left, right := axisX-d.half, axisX+d.half
	d.rect("skin", left, d.top, right, d.bottom, bagRounding)
	if c := r.Core; c != nil {
		half := c.DiameterM * d.scale / 2
		top := r.Bag.LengthM - c.TopDepthM
		d.rect("core", axisX-half, d.y(top), axisX+half, d.y(top-c.LengthM), 3)
	}
	if s.Dead.FlipToM > s.Dead.FlipFromM {
		d.rect("reversed", left+2, d.y(s.Dead.FlipFromM)-1, right-2, d.y(s.Dead.FlipToM), 0)
	}
	if s.Dead.HeightM != nil && s.Dead.OnBag {
		d.line("dead", left-8, d.y(*s.Dead.HeightM), right+8, d.y(*s.Dead.HeightM))
	}
	cy := d.y(s.Mass.CentreHeightM)
	d.circle("centre", axisX, cy, centreSize)
	d.line("line", axisX-centreSize, cy, axisX+centreSize, cy)
	d.line("line", axisX, cy-centreSize, axisX, cy+centreSize)
	sy := d.y(r.Bag.LengthM - r.Sensor.DepthM)
	x := float64(axisX)
	if math.Abs(sy-cy) < sensorSize+centreSize { // beside, so that neither hides the other
		x -= sensorSize + centreSize + 3
	}
	d.rect("sensor", x-sensorSize, sy-sensorSize, x+sensorSize, sy+sensorSize, 2)
}

// bagNote is a note beside the bag, about a point of it.
type bagNote struct {
	y    float64
	text string
}

// notes writes what the signs mean, each with a line to its place and clear of
// the others.
func (d *rigPicture) notes(swivel, ring float64) {
	s, r := d.s, d.s.Rig
	all := []bagNote{
		{(swivel + ring) / 2, fmt.Sprintf("chain %.2f m%s", r.Hang.ChainM, shortened(ring-swivel, r.Hang.ChainM*d.scale))},
		{(ring + d.top) / 2, fmt.Sprintf("straps %.2f m%s", r.Hang.StrapM, shortened(d.top-ring, r.Hang.StrapM*d.scale))},
		{d.y(r.Bag.LengthM - r.Sensor.DepthM), fmt.Sprintf("sensor %.2f m", r.Bag.LengthM-r.Sensor.DepthM)},
		{d.y(s.Mass.CentreHeightM), fmt.Sprintf("centre of mass %.2f m", s.Mass.CentreHeightM)},
	}
	if c := r.Core; c != nil {
		all = append(all, bagNote{d.y(r.Bag.LengthM - c.TopDepthM - 0.3*c.LengthM), fmt.Sprintf("core %.4g kg", c.MassKg)})
	}
	if s.Dead.HeightM != nil && s.Dead.OnBag {
		all = append(all, bagNote{d.y(*s.Dead.HeightM), fmt.Sprintf("dead height %.2f m", *s.Dead.HeightM)})
	}
	if s.Dead.FlipToM > s.Dead.FlipFromM {
		all = append(all, bagNote{d.y((s.Dead.FlipFromM + s.Dead.FlipToM) / 2), "first kick reversed"})
	}
	slices.SortStableFunc(all, func(a, b bagNote) int { return cmp.Compare(a.y, b.y) })
	at := math.Inf(-1)
	for _, n := range all {
		at = max(n.y, at+leastLeads)
		d.curve("lead", []spot{{min(axisX+d.half+12, notesX-24), n.y, true}, {notesX - 12, n.y, true}, {notesX - 4, at, true}})
		d.text(notesX, at+4, "", "%s", n.text)
	}
}

// shortened says that a length is drawn shorter than it is.
func shortened(drawn, whole float64) string {
	if drawn < whole-0.5 {
		return " (cut)"
	}
	return ""
}

// panel draws the frame of a panel beside the bag and returns its left edge.
func (d *rigPicture) panel(i int, title, unit string) float64 {
	x := float64(panelsX + i*(panelWidth+panelGap))
	d.rect("thin", x, d.top, x+panelWidth, d.bottom, 0)
	d.text(x, d.top-22, "part", "%s", title)
	d.text(x, d.top-8, "soft", "%s", unit)
	return x
}

// kicks draws how a blow at each height accelerates the sensor, over what it
// does at the centre of mass.
func (d *rigPicture) kicks() {
	s := d.s
	x := d.panel(0, "First kick of the sensor", "centre of mass struck: 1")
	mass := s.Rig.Bag.MassKg
	a := evenAxis(0, panelWidth/2, slices.Max(d.ranges.kicks))
	zero := x + panelWidth/2
	// The kick is linear in height.
	first, last := s.Heights[0], s.Heights[len(s.Heights)-1]
	slope := (last.AcceleranceKg1 - first.AcceleranceKg1) / (last.HeightM - first.HeightM)
	kick := func(h float64) float64 { return mass * (first.AcceleranceKg1 + slope*(h-first.HeightM)) }
	end := func(h float64) float64 { return zero + math.Copysign(a.at(math.Abs(kick(h))), kick(h)) }
	area := func(class string, from, to float64) {
		if to > from {
			fmt.Fprintf(&d.b, "<path class=\"%s\" d=\"M%s %sL%s %sL%s %sL%s %sZ\"/>\n", class, px(zero), px(d.y(from)),
				px(end(from)), px(d.y(from)), px(end(to)), px(d.y(to)), px(zero), px(d.y(to)))
		}
	}
	flipFrom, flipTo, length := s.Dead.FlipFromM, s.Dead.FlipToM, s.Rig.Bag.LengthM
	if flipFrom > 0 || flipTo == flipFrom {
		area("plus", 0, cmp.Or(flipFrom, length))
	}
	if flipTo > 0 && flipTo < length {
		area("plus", flipTo, length)
	}
	area("reversed", flipFrom, flipTo)
	d.line("line", zero, d.top, zero, d.bottom)
	d.text(zero, d.bottom+15, "mid", "0")
	d.text(x, d.bottom+15, "", "−%s", tickText(a.most))
	d.text(x+panelWidth, d.bottom+15, "end", "%s", tickText(a.most))
	d.text(x, d.bottom+30, "soft", "to the striker")
	d.text(x+panelWidth, d.bottom+30, "soft end", "away")
}

// errorPanel draws both limits of one error against height.
func (d *rigPicture) errorPanel(i int, title, unit string, values []float64, of func(advice.Error) *float64, scale float64) {
	x := d.panel(i, title, unit+", standard deviation")
	a := logAxis(x, x+panelWidth, values)
	for k, t := range a.ticks {
		if k > 0 && k < len(a.ticks)-1 {
			d.line("thin", a.at(t), d.top, a.at(t), d.bottom)
		}
		d.text(a.at(t), d.bottom+15, "mid", "%s", tickText(t))
	}
	along := func(limit func(advice.AtHeight) advice.Error) []spot {
		var out []spot
		for _, h := range d.s.Heights {
			v := of(limit(h))
			s := spot{y: d.y(h.HeightM), known: v != nil}
			if v != nil {
				s.x = a.at(*v * scale)
			}
			out = append(out, s)
		}
		return out
	}
	d.curve("limit", along(func(h advice.AtHeight) advice.Error { return h.SensorLimit }))
	d.curve("workable", along(func(h advice.AtHeight) advice.Error { return h.WorkableLimit }))
}
