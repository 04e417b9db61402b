package drift_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/eval/drift"
	"strikerose/models"
	"strikerose/testdata/rigs"
)

func before(t *testing.T) *rig.Rig {
	t.Helper()
	data, err := rigs.Files.ReadFile("before.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := rig.Parse(data, "before.toml")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// look simulates a session of 50 strikes and takes its numbers by what the rig
// file says.
func look(t *testing.T, file *rig.Rig, o simulate.Options) models.Seen {
	t.Helper()
	s, err := simulate.NewSession(o)
	if err != nil {
		t.Fatal(err)
	}
	seen, err := drift.Look(t.Context(), file, s.Signal(), 1)
	if err != nil {
		t.Fatal(err)
	}
	return seen
}

// TestFaultsAreFound trains on three simulated evenings and changes one thing at
// a time in the fourth, with the rig file left as it was. What must be marked is
// named; nothing else of the bag may be, unless it follows from it.
func TestFaultsAreFound(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates nine sessions")
	}
	file := before(t)
	changed := func(change func(*rig.Rig)) *rig.Rig {
		r := *file
		core := *file.Core
		r.Core = &core
		change(&r)
		return &r
	}
	var trained []models.Seen
	for seed := range uint64(3) {
		trained = append(trained, look(t, file, simulate.Usual(file, 50, 1+seed)))
	}
	for _, c := range []struct {
		name  string
		rig   *rig.Rig
		alter func(*simulate.Options)
		must  []string // one of these
		may   []string
		words string
	}{
		{name: "nothing", rig: file},
		{name: "core and filling 6 cm lower", rig: changed(func(r *rig.Rig) { r.Core.TopDepthM += 0.06 }),
			must: []string{"rocking_hz", "lever_m"}, may: []string{"misfit_per_ns", "swing_hz", "rest_x_deg", "rest_y_deg", "twist_hz"}, words: "as a new revision"},
		{name: "sensor slipped by 5 cm", rig: changed(func(r *rig.Rig) { r.Sensor.DepthM += 0.05 }),
			must: []string{"lever_m"}, may: []string{"misfit_per_ns", "rocking_hz"}, words: "slipped"},
		{name: "chain 12 cm longer", rig: changed(func(r *rig.Rig) { r.Hang.ChainM += 0.12 }),
			must: []string{"swing_hz", "rocking_hz"}, may: []string{"misfit_per_ns", "lever_m", "twist_hz"}, words: "longer chain"},
		{name: "strikes of half the force", rig: file, // said of the strikes, and not of the bag
			alter: func(o *simulate.Options) { o.Striker.Force = 0.5 },
			must:  []string{"impulse_ns"}, words: "strikes are weaker"},
		{name: "core leans by 4 degrees more", rig: file,
			alter: func(o *simulate.Options) { o.Sensor.SlantDeg += 4 },
			must:  []string{"rest_x_deg", "rest_y_deg"}, may: []string{"misfit_per_ns"}, words: "leans"},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := simulate.Usual(c.rig, 50, 9)
			if c.alter != nil {
				c.alter(&o)
			}
			all, ok := drift.Compare(trained, look(t, file, o))
			if !ok {
				t.Fatal("there is nothing to compare")
			}
			found, said := len(c.must) == 0, c.words == ""
			for _, f := range all {
				t.Logf("%-18s %7.3g, in training %7.3g: %.2f (usual %.2f), p %.2g %s", f.Name, f.Now, f.Trained, f.Distance, f.Usual, f.PHolm, f.Words)
				if !f.Marked {
					continue
				}
				said = said || strings.Contains(f.Words, c.words)
				switch {
				case slices.Contains(c.must, f.Name):
					found = true
				case f.Of == drift.OfBag && !slices.Contains(c.may, f.Name):
					t.Errorf("%s is marked: %s", f.Name, f.Words)
				}
			}
			if !found || !said {
				t.Errorf("none of %v is marked, with words of %q", c.must, c.words)
			}
		})
	}
}

func TestNothingToCompare(t *testing.T) {
	seen := models.Seen{Session: "monday", Rig: "garage-r1", Strikes: 30}
	if _, ok := drift.Compare(nil, seen); ok {
		t.Error("compared with no session")
	}
	other := seen
	other.Rig = "garage-r2"
	if _, ok := drift.Compare([]models.Seen{other}, seen); ok {
		t.Error("compared with another revision")
	}
	if all, ok := drift.Compare([]models.Seen{seen}, seen); !ok || len(all) > 0 {
		t.Errorf("sessions without numbers give %d findings, %v", len(all), ok)
	}
}

// TestSameEveningsAreSeldomMarked draws sessions from one distribution: hardly one
// in a hundred may be marked.
func TestSameEveningsAreSeldomMarked(t *testing.T) {
	marked := 0
	const rounds = 400
	for seed := range uint64(rounds) {
		all, _ := drift.Compare([]models.Seen{drift.Drawn(seed, 1, 0), drift.Drawn(seed, 2, 0)}, drift.Drawn(seed, 3, 0))
		for _, f := range all {
			if f.Marked {
				marked++
				break
			}
		}
	}
	if limit := 0.01*rounds + 3*math.Sqrt(0.01*rounds); float64(marked) > limit {
		t.Errorf("%d of %d sessions are marked, %.0f are the limit", marked, rounds, limit)
	}
	if all, _ := drift.Compare([]models.Seen{drift.Drawn(1, 1, 0), drift.Drawn(1, 2, 0)}, drift.Drawn(1, 3, 1.5)); !all[0].Marked {
		t.Error("a shift by one and a half standard deviations is not marked")
	}
}

// Where sessions trained on lie as far apart, a session like one of them is as
// usual, however unlikely beside all of them together.
func TestNoFartherThanUsualIsNotMarked(t *testing.T) {
	all, _ := drift.Compare([]models.Seen{drift.Drawn(1, 1, 0), drift.Drawn(1, 2, 3)}, drift.Drawn(1, 3, 3))
	unlikely := 0
	for _, f := range all {
		if f.Of == drift.OfStrikes && f.PHolm < 1e-3 {
			unlikely++
		}
		if f.Marked {
			t.Errorf("%s is marked: %.2f away, usual %.2f", f.Name, f.Distance, f.Usual)
		}
	}
	if unlikely == 0 {
		t.Error("no number is unlikely: the test asks nothing")
	}
}
