package signal

import (
	"cmp"
	"math"
	"slices"
)

// PeakRules says which peaks count. The zero value takes all. The rules apply
// in the order of the fields: a distance only looks at peaks that meet the
// rules before it.
type PeakRules struct {
	MinPlateau    int      // samples of equal height
	MinHeight     *float64 // nil: any
	MinThreshold  float64  // above both neighbours
	MinDistance   int      // in samples to the next peak; higher peaks first, of equal ones the later
	MinProminence float64
	MinWidth      float64 // in samples
	Window        int     // how many samples around a peak its prominence looks at, made odd; 0: all
	WidthAt       float64 // share of the prominence below the peak at which its width is taken; 0: one half
}

// Peak is a local maximum.
type Peak struct {
	Index       int // the middle of a plateau, rounded down
	Left, Right int // edges of the plateau
	Height      float64

	// Prominence is the height above the higher of the two lowest points that
	// lie between the peak and higher ground on either side.
	Prominence          float64
	LeftBase, RightBase int // where those lowest points are, the nearest of equal ones

	Width, WidthHeight    float64 // in samples, and the height at which it was taken
	LeftCross, RightCross float64 // where x crosses that height, interpolated
}

// Peaks finds the local maxima of x: samples, or runs of equal ones, that are
// higher than what is on either side. The ends of x are never peaks, nor is
// anything beside a NaN. Peaks come in order.
func Peaks(x []float64, rules PeakRules) []Peak {
	peaks := maxima(x)
	peaks = slices.DeleteFunc(peaks, func(p Peak) bool {
		return p.Right-p.Left+1 < rules.MinPlateau ||
			rules.MinHeight != nil && !(p.Height >= *rules.MinHeight) ||
			p.Height-max(x[p.Index-1], x[p.Index+1]) < rules.MinThreshold
	})
	peaks = spread(peaks, rules.MinDistance)
	for i := range peaks {
		peaks[i].measure(x, rules)
	}
	return slices.DeleteFunc(peaks, func(p Peak) bool {
		return p.Prominence < rules.MinProminence || p.Width < rules.MinWidth
	})
}

// maxima finds samples or plateaus higher than both sides.
func maxima(x []float64) []Peak {
	peaks := make([]Peak, 0, len(x)/4) // of noise, every third sample is one
	for i := 1; i < len(x)-1; i++ {
		if !(x[i-1] < x[i]) {
			continue
		}
		j := i
		for j < len(x)-1 && x[j+1] == x[i] {
			j++
		}
		if j < len(x)-1 && x[j+1] < x[i] {
			peaks = append(peaks, Peak{Index: (i + j) / 2, Left: i, Right: j, Height: x[i]})
		}
		i = j
	}
	return peaks
}

// spread takes away peaks that are nearer than some distance to a higher one
// that stays.
func spread(peaks []Peak, distance int) []Peak {
	if distance <= 1 {
		return peaks
	}
	order := make([]int, len(peaks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(peaks[a].Height, peaks[b].Height) })
	slices.Reverse(order)
	gone := make([]bool, len(peaks))
	for _, i := range order {
		if gone[i] {
			continue
		}
		for j := i - 1; j >= 0 && peaks[i].Index-peaks[j].Index < distance; j-- {
			gone[j] = true
		}
		for j := i + 1; j < len(peaks) && peaks[j].Index-peaks[i].Index < distance; j++ {
			gone[j] = true
		}
	}
	var kept []Peak
	for i, p := range peaks {
		if !gone[i] {
			kept = append(kept, p)
		}
	}
	return kept
}

// measure fills in prominence and width.
func (p *Peak) measure(x []float64, rules PeakRules) {
	least, most := 0, len(x)-1
	if rules.Window > 0 {
		least, most = max(p.Index-rules.Window/2, least), min(p.Index+rules.Window/2, most)
	}
	p.LeftBase, p.RightBase = p.Index, p.Index
	for i := p.Index; i >= least && x[i] <= p.Height; i-- {
		if x[i] < x[p.LeftBase] {
			p.LeftBase = i
		}
	}
	for i := p.Index; i <= most && x[i] <= p.Height; i++ {
		if x[i] < x[p.RightBase] {
			p.RightBase = i
		}
	}
	p.Prominence = p.Height - max(x[p.LeftBase], x[p.RightBase])

	share := rules.WidthAt
	if share == 0 {
		share = 0.5
	}
	h := p.Height - p.Prominence*share
	p.WidthHeight = h
	i := p.Index
	for i > p.LeftBase && x[i] > h {
		i--
	}
	p.LeftCross = float64(i)
	if x[i] < h {
		p.LeftCross += (h - x[i]) / (x[i+1] - x[i])
	}
	i = p.Index
	for i < p.RightBase && x[i] > h {
		i++
	}
	p.RightCross = float64(i)
	if x[i] < h {
		p.RightCross -= (h - x[i]) / (x[i-1] - x[i])
	}
	p.Width = math.Max(0, p.RightCross-p.LeftCross)
}
