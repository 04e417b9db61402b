package ringdown

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"strikerose/dataset/rig"
)

// Value is a measured number with its 90 % interval over strikes.
type Value struct {
	Value float64 `json:"value"` // the number
	Low   float64 `json:"low"`   // lower end of its 90 % interval
	High  float64 `json:"high"`  // upper end of its 90 % interval
}

// Mode is one free motion as found.
type Mode struct {
	Hz Value `json:"hz"`
	// DecayS is the time in which its amplitude falls to 1/e; nil where the
	// stretches are too short to tell it.
	DecayS *Value `json:"decay_s,omitempty"`
}

// Found is what the stretches tell.
type Found struct {
	Strikes int  `json:"strikes"` // that the stretches followed
	Swing   Mode `json:"swing"`
	Rocking Mode `json:"rocking"`
	// Twist and LeverM need a gyroscope.
	Twist *Mode `json:"twist,omitempty"`
	// LeverM is how far the sensor lies below the point of the bag at which
	// nothing would be felt of free motion, metres; in a rig's terms the sensor's
	// depth less c + k^2/c, both from the lower pivot.
	LeverM *Value `json:"lever_m,omitempty"`
}

// fewest is how many stretches a measurement rests on at least.
const fewest = 8

// ErrFew is in the error of too few stretches.
var ErrFew = errors.New("too few strikes are followed by free motion")

// Draws of the resampling.
const draws = 400

// Measure finds the modes of a bag from its stretches. The rig's own modes are
// where it starts to look, half as slow to half as fast again; the seed decides
// the resampling. It errors on fewer than eight stretches or where no
// frequencies fit, and when ctx is done.
func Measure(ctx context.Context, stretches []Stretch, m rig.Mechanics, seed uint64) (Found, error) {
	f := Found{Strikes: len(stretches)}
	if len(stretches) < fewest {
		return f, fmt.Errorf("ringdown: %d of at least %d stretches: %w: let more strikes be followed by some seconds without one", len(stretches), fewest, ErrFew)
	}
	rng := rand.New(rand.NewPCG(seed, 0x51de))
	plane := make([]measured, len(stretches))
	spin := make([]measured, 0, len(stretches))
	for i, s := range stretches {
		x, y := parts(s.Force)
		plane[i] = measured{seconds: s.S, series: []series{newSeries(x, y)}}
		if s.Tip != nil {
			x, y = parts(s.Tip)
			plane[i].series = append(plane[i].series, newSeries(x, y))
			spin = append(spin, measured{seconds: s.S, series: []series{newSeries(s.Spin)}})
		}
	}
	swing, rocking := m.Modes()
	modes, err := measure(ctx, plane, start(plane, swing, rocking), rng)
	if err != nil {
		return f, fmt.Errorf("ringdown: swing and rocking: %w", err)
	}
	f.Swing, f.Rocking = modes[0], modes[1]
	if len(spin) < fewest {
		return f, nil
	}
	if modes, err = measure(ctx, spin, start(spin, m.Twist()), rng); err != nil {
		return f, fmt.Errorf("ringdown: twist: %w", err)
	}
	f.Twist = &modes[0]
	f.LeverM = lever(stretches, rng)
	return f, nil
}

func parts(z []complex128) (x, y []float64) {
	x, y = make([]float64, len(z)), make([]float64, len(z))
	for i, v := range z {
		x[i], y[i] = real(v), imag(v)
	}
	return x, y
}

// The first look goes over frequencies about the modes' own in even steps,
// fine enough that two seconds of motion fit one of them.
const (
	lookLow, lookHigh = 0.5, 1.5
	lookSteps         = 24
	lookAt            = 12 // stretches at most
)

// start looks for the frequencies to start from, decays being the modes' own.
func start(all []measured, modes ...rig.Mode) damped {
	stride := (len(all) + lookAt - 1) / lookAt
	var some []*fitting
	for i := 0; i < len(all); i += stride {
		f := &fitting{}
		f.take(all[i], len(modes))
		some = append(some, f)
	}
	best, least := damped(nil), math.Inf(1)
	try := make(damped, 2*len(modes))
	var look func(mode int)
	look = func(mode int) {
		if mode == len(modes) {
			sum := 0.0
			for _, f := range some {
				sum += f.misfit(try)
			}
			if sum < least {
				best, least = append(damped(nil), try...), sum
			}
			return
		}
		for i := range lookSteps {
			try[2*mode] = modes[mode].Hz * (lookLow + (lookHigh-lookLow)*(float64(i)+0.5)/lookSteps)
			try[2*mode+1] = 1 / modes[mode].DecayS
			if mode > 0 && try[2*mode] < 1.3*try[2*mode-2] {
				continue // two modes as fast as each other fit as one
			}
			look(mode + 1)
		}
	}
	look(0)
	return best
}

// holdAt is how many usual deviations a stretch may pull before it is held.
const holdAt = 3.0

// measure fits the modes that stretches share, holds stretches that pull hard
// (a shove, a strike that was not found), and resamples strikes: each drawing
// moves the result by one Newton step of its own weights.
func measure(ctx context.Context, all []measured, from damped, rng *rand.Rand) ([]Mode, error) {
	weight := make([]float64, len(all))
	for i := range weight {
		weight[i] = 1
	}
	at := from
	var there []slopes
	for range 3 {
		var ok bool
		if at, there, ok = descend(ctx, all, weight, at); ctx.Err() != nil {
			return nil, ctx.Err()
		} else if !ok {
			return nil, errors.New("no frequencies fit the motion: check that the log is of a hanging bag, and its rig file")
		}
		hold(weight, there)
	}
	values := make([][]float64, len(at))
	drawn := make([]float64, len(all))
	for range draws {
		clear(drawn)
		for range all {
			i := rng.IntN(len(all))
			drawn[i] += weight[i]
		}
		if step, ok := total(there, drawn).newton(0); ok {
			for k := range at {
				values[k] = append(values[k], at[k]+step[k])
			}
		}
	}
	if len(values[0]) < draws/2 {
		return nil, errors.New("the stretches do not tell the frequencies: let more strikes be followed by some seconds without one")
	}
	var out []Mode
	for k := 0; k < len(at); k += 2 {
		m := Mode{Hz: interval(at[k], values[k])}
		rate := interval(at[k+1], values[k+1])
		if rate.Low > 0 && rate.High < 4*rate.Low {
			m.DecayS = &Value{Value: 1 / rate.Value, Low: 1 / rate.High, High: 1 / rate.Low}
		}
		out = append(out, m)
	}
	return out, nil
}

// hold sets the weights of stretches that pull any number further than holdAt
// times the usual pull.
func hold(weight []float64, there []slopes) {
	sum := total(there, weight)
	pulls := make([][]float64, len(there))
	for i, s := range there {
		alone := sum
		alone.gradient = s.gradient
		pulls[i], _ = alone.newton(0)
	}
	for i := range weight {
		weight[i] = 1
	}
	for k := range sum.gradient {
		var sizes []float64
		for _, p := range pulls {
			if p != nil {
				sizes = append(sizes, math.Abs(p[k]))
			}
		}
		if len(sizes) == 0 {
			return
		}
		slices.Sort(sizes)
		usual := sizes[len(sizes)/2] / 0.6745
		for i, p := range pulls {
			if p != nil && math.Abs(p[k]) > holdAt*usual {
				weight[i] = min(weight[i], holdAt*usual/math.Abs(p[k]))
			}
		}
	}
}

// interval is the 90 % interval of resampled values about the value found.
func interval(value float64, resampled []float64) Value {
	slices.Sort(resampled)
	at := func(share float64) float64 { return resampled[int(share*float64(len(resampled)-1)+0.5)] }
	return Value{Value: value, Low: at(0.05), High: at(0.95)}
}
