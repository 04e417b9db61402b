package models_test

import (
	"fmt"
	"math"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/models"
)

// covered counts how many strikes lie in what was stated of them.
type covered struct{ n, bearing, height int }

func (c *covered) add(e models.Estimate, l labelled) {
	c.n++
	if math.Abs(bearing.Diff(e.BearingDeg, l.BearingDeg)) <= e.BearingHalf90Deg {
		c.bearing++
	}
	if math.Abs(e.HeightM-l.HeightM) <= e.HeightHalf90M {
		c.height++
	}
}

func (c covered) String() string {
	share := func(k int) float64 { return 100 * float64(k) / math.Max(1, float64(c.n)) }
	return fmt.Sprintf("%.0f/%.0f", share(c.bearing), share(c.height))
}

// TestCoverOnRecordings tells how many strikes of sessions left out lie in the
// stated 90 % intervals, bearing/height, by rig, band and kind, with rotation
// rates and without, of the complex ridge unless STRIKEROSE_MEASURE lists others
// or says all.
func TestCoverOnRecordings(t *testing.T) {
	sets := recordings(t)
	for _, f := range models.Families() {
		if !datasettest.Measured(f.Name, "complex-ridge") {
			continue
		}
		for _, gyro := range []bool{true, false} {
			for _, rig := range []string{"A", "B", "C"} {
				all := sets[rig]
				if !gyro && f.NeedsGyro {
					continue
				}
				if !gyro {
					all = withoutGyro(all)
				}
				groups, halves := coverBySession(t, f, all)
				line := fmt.Sprintf("%-15s gyroscope %-5v %s n %d, half %.1f deg:", f.Name, gyro, rig, groups["all"].n, quantile(halves, .5))
				for _, g := range []string{"all", "low", "mid", "high", "straight", "hook", "upward", "tap"} {
					if groups[g] != nil {
						line += fmt.Sprintf(" %s %s", g, groups[g])
					}
				}
				t.Log(line)
				if c := groups["all"]; f.Kind == models.Fitted && (10*c.bearing < 8*c.n || 10*c.height < 8*c.n) {
					t.Errorf("%s, gyroscope %v, rig %s: intervals of 90 %% hold %s %%", f.Name, gyro, rig, c)
				}
			}
		}
	}
}

// coverBySession trains on every session but one and answers that one.
func coverBySession(t *testing.T, f models.Family, all []labelled) (groups map[string]*covered, halves []float64) {
	groups = map[string]*covered{}
	for _, s := range sessionsOf(all) {
		var rest []labelled
		for _, l := range all {
			if l.Session != s {
				rest = append(rest, l)
			}
		}
		d, err := f.Fit(t.Context(), timed(rest), models.Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range all {
			if l.Session != s {
				continue
			}
			e := d.Estimate(l.Input)
			halves = append(halves, e.BearingHalf90Deg)
			for _, g := range []string{"all", l.band, l.kind} {
				if groups[g] == nil {
					groups[g] = &covered{}
				}
				groups[g].add(e, l)
			}
		}
	}
	return groups, halves
}
