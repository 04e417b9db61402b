package models

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"sync"
)

// turnLesson teaches a strike: by what angle its bearing lies on from the
// direction along which its features are written, and how far its height lies
// above the first one. The weights are those of its labels.
func turnLesson(in []float64, turnRad, riseM, turnWeight, riseWeight float64) lesson {
	sin, cos := math.Sincos(turnRad)
	return lesson{
		in:     in,
		want:   []float64{sin / turnScale, cos / turnScale, riseM / netHeightM},
		weight: []float64{turnWeight, turnWeight, riseWeight},
	}
}

// reflected is the lesson of the mirror image, of which in are the inputs.
func (l lesson) reflected(in []float64) lesson {
	return lesson{in: in, want: []float64{-l.want[0], l.want[1], l.want[2]}, weight: l.weight}
}

// teachTurns fits the nets that the settings ask for, each from a start of its
// own.
func teachTurns(ctx context.Context, lessons []lesson, o Options) ([]*Net, error) {
	nets := make([]*Net, int(o.Settings[settingStarts]))
	faults := make([]error, len(nets))
	var wg sync.WaitGroup
	for s := range nets {
		wg.Go(func() {
			rng := rand.New(rand.NewPCG(o.Seed, uint64(100+s)))
			nets[s], faults[s] = teach(ctx, lessons, int(o.Settings[settingUnits]), o.Settings[settingDecay], netSteps, rng)
		})
	}
	wg.Wait()
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return nets, nil
}

// turnedBy is the mean answer of the nets: the turn as a vector, whose length
// falls short of 1 where they doubt, and the rise in units of the height's
// scale. The mean of a strike's answer and of its mirror image's keeps the
// symmetry.
func turnedBy(nets []*Net, in, mirrored []float64) (turn complex128, rise float64) {
	var sin, cos float64
	out := make([]float64, netOutputs)
	for _, n := range nets {
		n.answer(in, out)
		sin, cos, rise = sin+out[0], cos+out[1], rise+out[2]
		n.answer(mirrored, out)
		sin, cos, rise = sin-out[0], cos+out[1], rise+out[2]
	}
	n := float64(2 * len(nets))
	return complex(cos*turnScale/n, sin*turnScale/n), rise / n
}
