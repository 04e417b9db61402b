package eval

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// A share that is worked out must be what counting over turned edges gives.
func TestRightPartsByCounting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const draws = 200000
	for _, n := range []int{1, 2, 3, 6, 11} {
		for _, part := range []float64{0.004, 0.05, 0.2, 0.45} {
			faces, bands := 0, 0
			for range draws {
				edge, at := rng.Float64(), rng.Float64()
				face := func(x float64) int { return int(math.Floor(math.Mod(x+edge, 1)*float64(n))) % n }
				if face(at) == face(at+part) {
					faces++
				}
				band := func(x float64) int { return min(n-1, int(x*float64(n))) }
				if band(at) == band(at+part) {
					bands++
				}
			}
			for _, c := range []struct {
				what string
				got  float64
				hits int
			}{{"face", rightFace(part, n), faces}, {"band", rightBand(part, n), bands}} {
				if want := float64(c.hits) / draws; math.Abs(c.got-want) > 0.006 {
					t.Errorf("right %s of %d with an error of %g: %.4f, counted %.4f", c.what, n, part, c.got, want)
				}
			}
		}
	}
}

func TestFinest(t *testing.T) {
	one := []float64{1}
	for _, c := range []struct {
		name   string
		errors []float64
		want   float64
	}{
		{"3 degrees", []float64{3. / 360}, 6},
		{"no error", []float64{0}, MostFaces},
		{"flips", []float64{0, 0, 0, 0.5}, 1},
		{"one flip in thirty", append(make([]float64, 29), 0.5), MostFaces},
	} {
		if got := finest(c.errors, make([]int, len(c.errors)), 1, MostFaces, rightFace)(one); got != c.want {
			t.Errorf("%s: %g faces, want %g", c.name, got, c.want)
		}
	}
	if got := finest(nil, nil, 1, MostFaces, rightFace)(one); !math.IsNaN(got) {
		t.Errorf("without errors %g, want NaN", got)
	}
}

// One more part is never easier, and the number found is the last that holds.
func TestFinestIsTheLastThatHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		errors := rapid.SliceOfN(rapid.Float64Range(0, 0.5), 1, 40).Draw(t, "errors")
		for _, right := range []func(float64, int) float64{rightFace, rightBand} {
			got := int(finest(errors, make([]int, len(errors)), 1, 50, right)([]float64{1}))
			if got > 1 && shareRight(errors, got, right) < RightShare-1e-9 {
				t.Fatalf("%d parts are said to hold, at a share of %g", got, shareRight(errors, got, right))
			}
			if got < 50 && shareRight(errors, got+1, right) >= RightShare {
				t.Fatalf("%d parts hold too, at a share of %g", got+1, shareRight(errors, got+1, right))
			}
		}
	})
}
