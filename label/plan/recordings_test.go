package plan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// struck is one strike of a recording's truth.
type struck struct {
	timeS, bearingDeg, heightM float64
	planOrder                  int // 0 for a strike that was not planned
	band, kind                 string
}

// recording is a plan and what was really struck.
type recording struct {
	name    string
	entries []Entry
	struck  []struck
}

func testRig() *rig.Rig {
	return &rig.Rig{
		Name: "test", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.33}, {Name: "mid", ToM: 0.67}, {Name: "high"}},
		Bag:   rig.Bag{LengthM: 1},
	}
}

func readRecordings(t testing.TB, dir string) []recording {
	t.Helper()
	plans, err := filepath.Glob(filepath.Join(dir, "*", "plans", "*_plan.csv"))
	if err != nil || len(plans) == 0 {
		t.Fatalf("no plans below %s: %v", dir, err)
	}
	sort.Strings(plans)
	var out []recording
	for _, path := range plans {
		base := filepath.Base(path)
		session := base[:len(base)-len("_plan.csv")]
		folder := filepath.Dir(filepath.Dir(path))
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		entries, err := Read(f, base, testRig())
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, recording{
			name: filepath.Base(folder) + "/" + session, entries: entries,
			struck: readStruck(t, filepath.Join(folder, "truth", session+"_truth.csv")),
		})
	}
	return out
}

func readStruck(t testing.TB, path string) []struck {
	t.Helper()
	var out []struck
	for _, row := range datasettest.Rows(t, path) {
		if row["in_gap"] == "1" {
			continue
		}
		s := struck{timeS: row.Number(t, "t_s"), bearingDeg: row.Number(t, "bearing_on_bag_deg"), heightM: row.Number(t, "height_m"),
			band: row["band"], kind: row["kind"]}
		if row["plan_order"] != "" {
			s.planOrder = int(row.Number(t, "plan_order"))
		}
		out = append(out, s)
	}
	return out
}

// blur says how finds differ from what was struck.
type blur struct {
	turnDeg        float64
	sdDeg, hookDeg float64
	flipLow        float64 // share of low strikes that push the other way
	dropShare      float64
	extras         int
	heightSD       float64 // of the one height feature, 0 for none
}

// finds imitates what a finder gives; orders are the plan orders, 0 for none.
func (b blur) finds(s []struck, rng *rand.Rand) (finds []Find, orders []int) {
	type both struct {
		f Find
		o int
	}
	var all []both
	for _, x := range s {
		if rng.Float64() < b.dropShare {
			continue
		}
		sd := b.sdDeg
		if x.kind == "hook" {
			sd = b.hookDeg
		}
		deg := x.bearingDeg + b.turnDeg + sd*rng.NormFloat64()
		if x.band == "low" && rng.Float64() < b.flipLow {
			deg += 180
		}
		f := Find{TimeS: x.timeS, PushBearingDeg: bearing.Wrap360(deg)}
		if b.heightSD > 0 {
			f.Height = []float64{x.heightM + b.heightSD*rng.NormFloat64()}
		}
		all = append(all, both{f, x.planOrder})
	}
	last := s[len(s)-1].timeS
	for range b.extras {
		f := Find{TimeS: last * rng.Float64(), PushBearingDeg: 360 * rng.Float64()}
		if b.heightSD > 0 {
			f.Height = []float64{rng.Float64()}
		}
		all = append(all, both{f, 0})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].f.TimeS < all[j].f.TimeS })
	for _, x := range all {
		finds, orders = append(finds, x.f), append(orders, x.o)
	}
	return finds, orders
}

// tally counts how well labels hit.
type tally struct{ strikes, labelled, right, onNone int }

func (t *tally) add(a Alignment, entries []Entry, orders []int) {
	for j, f := range a.Finds {
		if orders[j] != 0 {
			t.strikes++
		}
		if f.State != Labelled {
			continue
		}
		t.labelled++
		switch orders[j] {
		case entries[f.Entry].Order:
			t.right++
		case 0:
			t.onNone++
		}
	}
}

func (t tally) String() string {
	return fmt.Sprintf("%d planned strikes, labelled %.3f, right %.4f, on no planned strike %d",
		t.strikes, float64(t.labelled)/float64(t.strikes), float64(t.right)/float64(t.labelled), t.onNone)
}

// TestMeasureSimulatedFinds measures alignment with finds made from the truth
// tables of the full recordings.
func TestMeasureSimulatedFinds(t *testing.T) {
	recordings := readRecordings(t, datasettest.Recordings(t))
	for _, c := range []struct {
		name string
		blur
		labelled, right float64 // at least
	}{
		{"clean", blur{turnDeg: 30, sdDeg: 6, hookDeg: 20, flipLow: 0.02}, 0.94, 0.99},
		{"clean with height", blur{turnDeg: 30, sdDeg: 6, hookDeg: 20, flipLow: 0.02, heightSD: 0.06}, 0.96, 0.99},
		{"flipped low", blur{turnDeg: -100, sdDeg: 6, hookDeg: 20, flipLow: 0.9, heightSD: 0.06}, 0.96, 0.99},
		{"half flipped low", blur{turnDeg: -100, sdDeg: 8, hookDeg: 20, flipLow: 0.5, heightSD: 0.06}, 0.96, 0.99},
		{"drops and extras", blur{turnDeg: 200, sdDeg: 6, hookDeg: 20, flipLow: 0.02, dropShare: 0.1, extras: 8, heightSD: 0.06}, 0.85, 0.97},
	} {
		t.Run(c.name, func(t *testing.T) {
			var sum tally
			start := time.Now()
			for k, r := range recordings {
				finds, orders := c.finds(r.struck, rand.New(rand.NewPCG(1, uint64(k))))
				a, err := Align(t.Context(), r.entries, finds, Options{Faces: 6})
				if err != nil {
					t.Errorf("%s: %v", r.name, err)
					continue
				}
				sum.add(a, r.entries, orders)
			}
			t.Logf("%v; %v a session", sum, (time.Since(start) / time.Duration(len(recordings))).Round(time.Millisecond))
			if float64(sum.labelled) < c.labelled*float64(sum.strikes) || float64(sum.right) < c.right*float64(sum.labelled) {
				t.Errorf("want at least %g labelled and %g right", c.labelled, c.right)
			}
		})
	}
}

// TestMeasureSwappedPlans measures how plans of other sessions fare.
func TestMeasureSwappedPlans(t *testing.T) {
	recordings := readRecordings(t, datasettest.Recordings(t))
	b := blur{turnDeg: 30, sdDeg: 6, hookDeg: 20, flipLow: 0.02, heightSD: 0.06}
	highest, lowest := -1e9, 1e9
	for i, r := range recordings {
		for k, s := range recordings {
			if d := (k - i + len(recordings)) % len(recordings); d > 2 { // two other plans a session are enough
				continue
			}
			finds, _ := b.finds(s.struck, rand.New(rand.NewPCG(1, uint64(k))))
			a, err := Align(t.Context(), r.entries, finds, Options{Faces: 6})
			if (err == nil) != (i == k) {
				t.Errorf("plan %s on finds of %s: %v, score %.1f", r.name, s.name, err, a.Chance.Score())
			}
			if i == k {
				lowest = min(lowest, a.Chance.Score())
			} else {
				highest = max(highest, a.Chance.Score())
			}
		}
	}
	t.Logf("right plans score at least %.1f, swapped ones at most %.1f", lowest, highest)
}
