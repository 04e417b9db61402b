package models

import (
	"context"
	"math"
	"weak"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/models/physics"
)

// placed fits the bag's equations of motion to a strike, of which nothing later
// than withinMs after the onset is read; 0 leaves the fit its own wait. Without
// a window the answer is a guess.
func placed(in Input, withinMs float64) physics.Place {
	bag := physics.NewBag(in.Rig)
	if in.Window == nil {
		z, _ := vectors(in.Row, []string{"kick"}, nil)
		return bag.Guess(z[0])
	}
	return bag.Place(upTo(in.Window, withinMs))
}

// upTo ends a window withinMs after its onset; 0 leaves it whole.
func upTo(w *dataset.Window, withinMs float64) *dataset.Window {
	n := w.Pre + int(math.Ceil(withinMs*w.RateHz/1000-1e-9))
	if withinMs == 0 || n >= len(w.A[0]) {
		return w
	}
	out := *w
	for k := range out.A {
		out.A[k] = w.A[k][:n]
		if w.HasGyro() {
			out.G[k] = w.G[k][:n]
		}
	}
	return &out
}

// placingMs is how long after the onset the fit reads.
func placingMs(gyro bool, withinMs float64) float64 {
	if ms := physics.WaitMs(gyro); withinMs == 0 || withinMs >= ms {
		return ms
	}
	return math.Max(withinMs, physics.LeastMs)
}

// placings keeps the places of a fit's examples, which folds, forms and yaw
// offsets all ask for: solving the equations of motion takes longer than all
// else. Windows are held weakly, so that a detector does not keep those that it
// was trained on.
type placings struct {
	withinMs float64
	known    map[placing]physics.Place
}

// placing is what a place depends on beside the wait.
type placing struct {
	window weak.Pointer[dataset.Window]
	rig    *rig.Rig
}

func placingOf(in Input) placing { return placing{weak.Make(in.Window), in.Rig} }

// learn solves for the examples. It must not be called along with of.
func (p *placings) learn(ctx context.Context, ex []Example) error {
	if p.known == nil {
		p.known = make(map[placing]physics.Place, len(ex))
	}
	for _, e := range ex {
		if err := ctx.Err(); err != nil {
			return err
		}
		key := placingOf(e.Input)
		if _, ok := p.known[key]; !ok && e.Window != nil {
			p.known[key] = placed(e.Input, p.withinMs)
		}
	}
	return nil
}

// of is a strike's place.
func (p *placings) of(in Input) physics.Place {
	if in.Window != nil {
		if place, ok := p.known[placingOf(in)]; ok {
			return place
		}
	}
	return placed(in, p.withinMs)
}
