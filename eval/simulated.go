package eval

import (
	"context"
	"fmt"
	"math"

	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/features/chain"
	"strikerose/models"
)

// SimulatedSession is the session that simulated examples name.
const SimulatedSession = "simulated"

// matchS is how far an onset that was found may lie from the simulated contact.
const matchS = 0.03

// Simulated simulates n strikes of the usual mix on a rig and returns those that
// are found in the simulated samples, with where they landed. Nothing of it is
// measured: what a detector learns from them must prove itself on recordings.
func Simulated(ctx context.Context, r *rig.Rig, n int, seed uint64) ([]models.Example, error) {
	s, err := simulate.NewSession(simulate.Usual(r, n, seed))
	if err != nil {
		return nil, err
	}
	signal := s.Signal()
	windows, err := chain.Run(ctx, r, signal, WholeWindow())
	if err != nil {
		return nil, fmt.Errorf("simulated session: %w", err)
	}
	var out []models.Example
	at := 0
	for _, x := range s.Truth() {
		seconds := func(i int) float64 { return float64(windows[i].Strike.OnsetNs-signal.TNs[0]) / 1e9 }
		for at < len(windows) && seconds(at) < x.TimeS-matchS {
			at++
		}
		if at < len(windows) && math.Abs(seconds(at)-x.TimeS) <= matchS {
			out = append(out, models.Example{
				Input: models.InputOf(windows[at], r), Session: SimulatedSession, BearingDeg: x.BearingDeg, HeightM: x.HeightM,
			})
			at++
		}
	}
	return out, nil
}
