package eval

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

func TestFitPowerFindsItsOwnCurve(t *testing.T) {
	n := []float64{48, 96, 200, 400}
	for _, want := range [][3]float64{{2, 20, 0.5}, {0, 9, 1}, {0.03, 0.4, 0.75}, {1, 0, 1}} {
		y, w := make([]float64, len(n)), make([]float64, len(n))
		for i, x := range n {
			y[i], w[i] = want[0]+want[1]*math.Pow(x, -want[2]), x
		}
		a, b, c := fitPower(n, y, w, 0)
		for _, x := range []float64{48, 150, 500, 5000} {
			if got, want := a+b*math.Pow(x, -c), want[0]+want[1]*math.Pow(x, -want[2]); math.Abs(got-want) > 1e-6*(1+want) {
				t.Errorf("curve %v with %g labels: %g, want %g", want, x, got, want)
			}
		}
	}
}

// Whatever the points, the curve falls, passes through the last one, stays above
// the floor that it allows, and keeps its exponent within bounds.
func TestFitPowerStaysWithinBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := []float64{12, 24, 48, 96}
		y := rapid.SliceOfN(rapid.Float64Range(0.1, 100), len(n), len(n)).Draw(t, "errors")
		w := rapid.SliceOfN(rapid.Float64Range(0.01, 100), len(n), len(n)).Draw(t, "weights")
		floor := rapid.Float64Range(0, 10).Draw(t, "floor")
		a, b, c := fitPower(n, y, w, floor)
		if a < math.Min(floor, y[3])-1e-9 || b < 0 || c < slowestLearning || c > fastestLearning {
			t.Fatalf("a %g, b %g, c %g with a floor of %g and a last error of %g", a, b, c, floor, y[3])
		}
		if last := a + b*math.Pow(n[3], -c); math.Abs(last-y[3]) > 1e-9*y[3] {
			t.Fatalf("the curve ends at %g, not at %g", last, y[3])
		}
	})
}

// The labels of a curve are drawn evenly: after k rounds every face and band
// that still has labels has been drawn k times.
func TestBalancedDraws(t *testing.T) {
	cases := balancedCases(120)
	order := balanced(cases, positions(len(cases)), rand.New(rand.NewPCG(1, 1)))
	seen, cells := map[int]bool{}, map[string]int{}
	for _, i := range order {
		seen[i] = true
	}
	if len(order) != len(cases) || len(seen) != len(cases) {
		t.Fatalf("%d drawn, %d of them different, want %d", len(order), len(seen), len(cases))
	}
	for _, i := range order[:12] {
		cells[cellName(cases[i])]++
	}
	for name, k := range cells {
		if k != 2 {
			t.Errorf("%s drawn %d times in two rounds of six", name, k)
		}
	}
}
func balancedCases(n int) []Case {
	r := &rig.Rig{Name: "shed", Revision: 1, Faces: 3, Bands: []rig.Band{{Name: "low", ToM: 0.5}, {Name: "high"}}, Bag: rig.Bag{LengthM: 1}}
	var out []Case
	for i := range n {
		// Every second strike on face 1, the others as often on 2 and 3; heights alternate in pairs.
		face := []int{1, 2, 1, 3}[i%4]
		out = append(out, Case{Rig: r, Train: &Target{BearingDeg: bearing.FaceCentre(face, 3), HeightM: []float64{0.2, 0.8}[i/4%2]}})
	}
	return out
}

func cellName(c Case) string {
	return fmt.Sprint(c.Rig.FaceOf(c.Train.BearingDeg), c.Rig.BandOf(c.Train.HeightM))
}

func TestEnough(t *testing.T) {
	n := []float64{6, 12, 24, 48}
	for _, c := range []struct {
		y    []float64
		want float64
	}{
		{[]float64{2, 2, 2, 2}, 6},
		{[]float64{4, 3, 2.1, 2}, 24 - 12*0.1/0.9 + 1}, // rounded up: 22.67
		{[]float64{2, 5, 2.1, 2}, 24},
		{[]float64{9, 9, 9, 1}, 48},
	} {
		if got := enough(n, c.y); got != math.Ceil(got) || math.Abs(got-c.want) > 1 {
			t.Errorf("%v: enough from %g on, want about %g", c.y, got, c.want)
		}
	}
}
