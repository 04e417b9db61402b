package bound

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/floats"

	"strikerose/dataset/rig"
)

// Least is the least error of any detector without bias: the Cramér-Rao bounds
// on the standard deviations of a strike's bearing and height. A bound is +Inf
// (null in JSON) where the window cannot tell: the information is singular.
// Bearing bounds beyond some tens of degrees mean the same, as the bound is
// about small errors.
type Least struct {
	HeightM      float64 // of the strike, above the bag's bottom edge
	BearingSDDeg float64
	HeightSDM    float64
}

// TellsBearing tells whether the window says anything of the bearing, and
// TellsHeight of the height.
func (l Least) TellsBearing() bool { return !math.IsInf(l.BearingSDDeg, 1) }

// TellsHeight is like TellsBearing.
func (l Least) TellsHeight() bool { return !math.IsInf(l.HeightSDM, 1) }

// MarshalJSON writes a bound that is infinite as null.
func (l Least) MarshalJSON() ([]byte, error) {
	finite := func(x float64) *float64 {
		if math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	return json.Marshal(struct {
		HeightM      float64  `json:"height_m"`
		BearingSDDeg *float64 `json:"bearing_sd_deg"`
		HeightSDM    *float64 `json:"height_sd_m"`
	}{l.HeightM, finite(l.BearingSDDeg), finite(l.HeightSDM)})
}

// At returns the least error for a strike at a height. A height off the bag or
// a setting that makes no sense is an error; a strike that cannot be told is
// not.
func At(s Setting, heightM float64) (Least, error) {
	all, err := AlongBag(s, []float64{heightM})
	if err != nil {
		return Least{}, err
	}
	return all[0], nil
}

// AlongBag returns the least error for strikes at each height.
func AlongBag(s Setting, heightsM []float64) ([]Least, error) {
	s, err := s.Filled()
	if err != nil {
		return nil, err
	}
	if err := checkHeights(s.Rig, heightsM); err != nil {
		return nil, err
	}
	return newWindow(s, s.Rig.Mechanics()).along(heightsM), nil
}

// Map is the least error over the sensor's depth and the strike's height.
type Map struct {
	DepthsM  []float64 // of the sensor, below the bag's top edge
	HeightsM []float64 // of the strike, above the bag's bottom edge
	Least    [][]Least // [depth][height]
}

// OverDepth returns the least error for strikes at each height with the sensor
// at each depth below the bag's top edge; the rest of the rig stays as it is.
// It ends with the context's error when that is done.
func OverDepth(ctx context.Context, s Setting, depthsM, heightsM []float64) (Map, error) {
	s, err := s.Filled()
	if err != nil {
		return Map{}, err
	}
	if err := checkHeights(s.Rig, heightsM); err != nil {
		return Map{}, err
	}
	for _, d := range depthsM {
		if !(d >= 0 && d <= s.Rig.Bag.LengthM) {
			return Map{}, fmt.Errorf("bound: sensor depth %g m is not within the bag of %g m", d, s.Rig.Bag.LengthM)
		}
	}
	out := Map{DepthsM: depthsM, HeightsM: heightsM, Least: make([][]Least, len(depthsM))}
	var wg sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, depth := range depthsM {
		free <- struct{}{}
		wg.Go(func() {
			defer func() { <-free }()
			if ctx.Err() != nil {
				return
			}
			m := s.Rig.Mechanics()
			m.SensorM = depth + m.StrapM
			out.Least[i] = newWindow(s, m).along(heightsM)
		})
	}
	wg.Wait()
	if ctx.Err() != nil {
		return Map{}, ctx.Err()
	}
	return out, nil
}

func checkHeights(r *rig.Rig, heightsM []float64) error {
	for _, h := range heightsM {
		if !(h >= 0 && h <= r.Bag.LengthM) {
			return fmt.Errorf("bound: height %g m is not on the bag of %g m", h, r.Bag.LengthM)
		}
	}
	return nil
}

// along computes the bounds for every height.
func (w *window) along(heightsM []float64) []Least {
	out := make([]Least, len(heightsM))
	for i, h := range heightsM {
		wanted, others := w.alongPush(h)
		out[i] = Least{HeightM: h, HeightSDM: leastSD(wanted, others)}
		wanted, others = w.acrossPush(h)
		out[i].BearingSDDeg = leastSD(wanted, others) * 180 / math.Pi
	}
	return out
}

// alongPush returns the columns of the readings along the push: by the depth
// of the strike, and by all that is unknown beside it.
func (w *window) alongPush(heightM float64) (byDepth []float64, others [][]float64) {
	s, depth := w.setting, w.mechanics.DepthM(heightM)
	// A push at a depth moves a mode by its shape there, which is linear in it.
	push := func(m rig.Mode) float64 { return s.ImpulseNs * m.At(depth) }
	byDepth = w.plane.mix(func(m pushed) []float64 { return m.answer }, func(m rig.Mode) float64 { return s.ImpulseNs * m.AngleShape })
	others = append(others, w.common...)
	if !s.Known.Impulse {
		others = append(others, w.plane.strike(depth))
	}
	if !s.Known.Contact {
		others = append(others, w.plane.mix(func(m pushed) []float64 { return m.byContact }, push))
	}
	if !s.Known.Onset {
		others = append(others, w.plane.mix(func(m pushed) []float64 { return m.byOnset }, push))
	}
	for k, c := range w.constants {
		column := c.up.strike(depth)
		floats.Sub(column, c.down.strike(depth))
		floats.Scale(s.ImpulseNs/(2*moveStep), column)
		column[len(column)-w.priors+k] = 1 // the prior, as one more reading
		others = append(others, column)
	}
	return byDepth, others
}

// acrossPush returns the columns of the readings across the push: by the
// bearing in radians, and by all that is unknown beside it.
func (w *window) acrossPush(heightM float64) (byBearing []float64, others [][]float64) {
	byBearing = w.plane.strike(w.mechanics.DepthM(heightM))
	floats.Scale(w.setting.ImpulseNs, byBearing)
	return byBearing, w.common
}
