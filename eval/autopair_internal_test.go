package eval

import (
	"math"
	"testing"

	"strikerose/dataset/rig"
	"strikerose/models"
)

func TestBestHalves(t *testing.T) {
	families := make([]models.Family, 4)
	for k, name := range []string{"cart", "forest", "k-nearest", "physics"} {
		families[k].Name, families[k].Gives = name, []string{"bearing", "height"}
	}
	families[3].WaitMs = 300
	values := []picked{
		{name: "sharp", bearingMAEDeg: 1, heightMAEM: 0.09, wrongFace: 0.02, wrongBand: 0.3},
		{name: "level", bearingMAEDeg: 9, heightMAEM: 0.02, wrongFace: 0.2, wrongBand: 0.1},
		{name: "aimer", bearingMAEDeg: 5, heightMAEM: 0.05, wrongFace: 0.01, wrongBand: 0.2},
		{name: "slow", bearingMAEDeg: 0.1, heightMAEM: 0.01},
	}
	for _, c := range []struct {
		name            string
		byAim           bool
		failed          int // position of one that could not be fitted, -1 for none
		bearing, height int
		ok              bool
	}{
		{"mean errors", false, -1, 0, 1, true},
		{"wrong faces and bands", true, -1, 2, 1, true},
		{"one cannot be fitted", false, 0, 2, 1, true},
		{"one is best at both", false, 1, 0, 2, true},
	} {
		v := append([]picked(nil), values...)
		if c.failed >= 0 {
			v[c.failed].failed = "no"
		}
		if b, h, ok := bestHalves(v, families, c.byAim, 250, true); b != c.bearing || h != c.height || ok != c.ok {
			t.Errorf("%s: bearing of %d, height of %d, %v; want %d, %d, %v", c.name, b, h, ok, c.bearing, c.height, c.ok)
		}
	}
	if _, _, ok := bestHalves(values[:1], families, false, 250, true); ok {
		t.Error("one family is paired with itself")
	}
	if _, _, ok := bestHalves(values[3:], families[3:], false, 250, true); ok {
		t.Error("what waits too long is paired")
	}
}

func TestTallyPair(t *testing.T) {
	r := &rig.Rig{Faces: 6, Bands: []rig.Band{{Name: "low", ToM: 0.5}, {Name: "high"}}, Bag: rig.Bag{LengthM: 1}}
	cases := []Case{{Rig: r, Score: &Target{BearingDeg: 10, HeightM: 0.3}}, {Rig: r, Score: &Target{BearingDeg: 350, HeightM: 0.7}}}
	run := &folded{
		answers: [][]models.Estimate{{{BearingDeg: 12, HeightM: 0}, {BearingDeg: 346, HeightM: 0}}, {{BearingDeg: 90, HeightM: 0.31}, {BearingDeg: 90, HeightM: 0.68}}},
		cost:    [][]Cost{{{Macs: 3, Numbers: 2, WaitMs: 30, Board: true}, {Macs: 3, Numbers: 2, WaitMs: 30, Board: true}}, {{Macs: 5, Numbers: 7, WaitMs: 20, Board: true}, {Macs: 5, Numbers: 7, WaitMs: 20, Board: true}}},
	}
	p := tallyPair("a+b", cases, run, 0, 1)
	if math.Abs(p.bearingMAEDeg-3) > 1e-12 || math.Abs(p.heightMAEM-0.015) > 1e-12 || p.name != "a+b" {
		t.Errorf("%s errs by %g degrees and %g m, want a+b by 3 and 0.015", p.name, p.bearingMAEDeg, p.heightMAEM)
	}
	if c := p.cost; c.Macs != 8 || c.Numbers != 9 || c.WaitMs != 30 || c.Board {
		t.Errorf("it costs %+v", c)
	}
}
