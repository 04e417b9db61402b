package chain_test

import (
	"context"
	"math"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/simulate"
	"strikerose/features/chain"
	"strikerose/features/onset"
)

// Of ordinary simulated strikes at least 99 in 100 are found, and hardly
// anything else is, wherever the sensor sits and whether chain and bag are
// stepped by modes or as rods.
func TestSimulatedStrikesAreFound(t *testing.T) {
	const (
		strikes = 200
		nearS   = 0.05
	)
	for _, c := range []struct {
		name   string
		depthM float64
		rods   bool
	}{{"near the top", 0.06, false}, {"at mid-length", 0.45, false}, {"near the top, at any angle", 0.06, true}} {
		r := datasettest.Rig(t)
		r.Sensor.DepthM = c.depthM
		o := simulate.Usual(r, strikes, 21)
		o.LargeAngles = c.rods
		s, err := simulate.NewSession(o)
		if err != nil {
			t.Fatal(err)
		}
		found, err := chain.Run(context.Background(), r, s.Signal(), chain.Options{})
		if err != nil {
			t.Fatal(err)
		}
		truth := s.Truth()
		hits, j := 0, 0
		for _, x := range truth {
			for j < len(found) && float64(found[j].Strike.OnsetNs)/1e9 < x.TimeS-nearS {
				j++
			}
			if j < len(found) && math.Abs(float64(found[j].Strike.OnsetNs)/1e9-x.TimeS) <= nearS {
				hits, j = hits+1, j+1
			}
		}
		t.Logf("sensor %s: %d of %d simulated strikes found, %d finds without one", c.name, hits, len(truth), len(found)-hits)
		if len(truth) != strikes || hits*100 < 99*strikes || (len(found)-hits)*100 > strikes {
			t.Errorf("sensor %s: %d of %d strikes found, %d finds without one", c.name, hits, len(truth), len(found)-hits)
		}
	}
}

// Up to onset.FastestRockingHz a bag's own motion does not pass for strikes;
// well above it does.
func TestFastRocking(t *testing.T) {
	const strikes = 60
	for _, c := range []struct {
		chainM float64
		fast   bool
	}{{0.15, false}, {0.05, true}} {
		r := datasettest.Rig(t)
		r.Hang.ChainM, r.Hang.StrapM = c.chainM, 0.02
		_, rocking := r.Mechanics().Modes()
		if fast := rocking.Hz > onset.FastestRockingHz; fast != c.fast {
			t.Fatalf("chain of %g m: rocks at %.2f Hz", c.chainM, rocking.Hz)
		}
		s, err := simulate.NewSession(simulate.Usual(r, strikes, 5))
		if err != nil {
			t.Fatal(err)
		}
		found, err := chain.Run(context.Background(), r, s.Signal(), chain.Options{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("chain of %g m, rocking at %.2f Hz: %d finds for %d simulated strikes", c.chainM, rocking.Hz, len(found), strikes)
		if many := len(found) > strikes+strikes/20; many != c.fast {
			t.Errorf("chain of %g m, rocking at %.2f Hz: %d finds for %d simulated strikes", c.chainM, rocking.Hz, len(found), strikes)
		}
	}
}
