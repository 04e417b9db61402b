package tune_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/eval/tune"
)

// TestRiseReference holds permutation importance to that of least squares on the
// diabetes data, over all cyclic shifts (see the source in the file).
func TestRiseReference(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "reference", "diabetes_importance.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		R2   float64   `json:"r2"`
		Mean []float64 `json:"mean_drop_of_r2"`
	}
	if err := json.Unmarshal(data, &want); err != nil {
		t.Fatal(err)
	}
	names := []string{"age", "sex", "bmi", "bp", "s1", "s2", "s3", "s4", "s5", "s6"}
	var x [][]float64
	var y []float64
	for _, row := range datasettest.Rows(t, filepath.Join("testdata", "reference", "diabetes.csv")) {
		line := []float64{1}
		for _, n := range append(slices.Clone(names), "target") {
			v, err := strconv.ParseFloat(row[n], 64)
			if err != nil {
				t.Fatal(err)
			}
			line = append(line, v)
		}
		x, y = append(x, line[:len(names)+1]), append(y, line[len(names)+1])
	}
	n := len(y)
	design := mat.NewDense(n, len(names)+1, slices.Concat(x...))
	var w mat.VecDense
	if err := w.SolveVec(design, mat.NewVecDense(n, y)); err != nil {
		t.Fatal(err)
	}
	var meanY, total float64
	for _, v := range y {
		meanY += v / float64(n)
	}
	for _, v := range y {
		total += (v - meanY) * (v - meanY)
	}
	// losses are squared residuals as parts of the whole: their sum is 1 - R2.
	losses := func(column int) func(from []int) [][]float64 {
		return func(from []int) [][]float64 {
			out := make([]float64, n)
			for i := range out {
				e := y[i]
				for k := range x[i] {
					at := i
					if k == column {
						at = from[i]
					}
					e -= w.AtVec(k) * x[at][k]
				}
				out[i] = e * e / total
			}
			return [][]float64{out}
		}
	}
	whole := make([]int, n)
	for i := range whole {
		whole[i] = i
	}
	if got := 1 - sum(losses(0)(whole)[0]); math.Abs(got-want.R2) > 1e-9 {
		t.Fatalf("R2 %.12f, want %.12f: this is another regression", got, want.R2)
	}
	shifts := tune.Shifts(n, n, rand.New(rand.NewPCG(1, 2)))
	for k, name := range names {
		got := sum(tune.Rise(n, shifts, losses(k+1))[0])
		if math.Abs(got-want.Mean[k]) > 1e-9 {
			t.Errorf("%s: drop of R2 %.12f, want %.12f", name, got, want.Mean[k])
		}
	}
}

func sum(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s
}

// Shifts are distinct and leave no item in its place.
func TestShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, most := rapid.IntRange(0, 50).Draw(t, "n"), rapid.IntRange(0, 60).Draw(t, "most")
		got := tune.Shifts(n, most, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		if want := min(most, max(n-1, 0)); len(got) != want {
			t.Fatalf("%d shifts, want %d", len(got), want)
		}
		slices.Sort(got)
		if len(slices.Compact(slices.Clone(got))) != len(got) || len(got) > 0 && (got[0] < 1 || got[len(got)-1] >= n) {
			t.Fatalf("shifts %v of %d items", got, n)
		}
	})
}

// Over all shifts each item meets every other's value once: the mean rise of a
// quadratic loss is known in closed form.
func TestRiseOfSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-5, 5), 2, 30).Draw(t, "x")
		n := len(x)
		rise := tune.Rise(n, tune.Shifts(n, n, rand.New(rand.NewPCG(1, 1))), func(from []int) [][]float64 {
			out := make([]float64, n)
			for i, j := range from {
				out[i] = (x[j] - x[i]) * (x[j] - x[i])
			}
			return [][]float64{out}
		})[0]
		for i := range x {
			var want float64
			for j := range x {
				want += (x[j] - x[i]) * (x[j] - x[i]) / float64(n-1)
			}
			if math.Abs(rise[i]-want) > 1e-9 {
				t.Fatalf("item %d rises by %g, want %g", i, rise[i], want)
			}
		}
	})
}
