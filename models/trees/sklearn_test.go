package trees_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"runtime"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/models/trees"
)

// job is a forest for testdata/forests.py to grow.
type job struct {
	Columns    [][]float64 `json:"columns"`
	Target     [][]float64 `json:"target"`
	Test       [][]float64 `json:"test"`
	Trees      int         `json:"trees"`
	Try        int         `json:"try"`
	MinLeaf    int         `json:"min_leaf"`
	Processors int         `json:"processors"`
}

type grownBySklearn struct {
	Answers [][]float64
	Seconds float64
}

// sklearn grows forests with scikit-learn, and skips where it is missing.
func sklearn(t testing.TB, jobs []job) []grownBySklearn {
	t.Helper()
	const install = "apt-get install python3-sklearn"
	python := datasettest.RequireTool(t, "/usr/bin/python3", install)
	cmd := exec.CommandContext(t.Context(), python, "testdata/forests.py")
	cmd.Stdin = bytes.NewReader(marshal(t, jobs))
	var said bytes.Buffer
	cmd.Stderr = &said
	data, err := cmd.Output()
	if err != nil {
		if strings.Contains(said.String(), "ModuleNotFoundError") {
			datasettest.Missing(t, "scikit-learn", install)
		}
		t.Fatalf("%v\n%s", err, &said)
	}
	var out []grownBySklearn
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// contest is one target on which both grow forests. A number has one value a
// row, a bearing its cosine and sine, which is how scikit-learn can learn it.
type contest struct {
	name       string
	x          []float64
	y          []float64
	bearings   bool
	test       func(row int) bool
	criterions []trees.Criterion
	try, leaf  int
}

func (c *contest) split() (x [][]float64, train, test []int) {
	rows := len(c.y)
	for i := range rows {
		if c.test(i) {
			test = append(test, i)
		} else {
			train = append(train, i)
		}
	}
	for k := range len(c.x) / rows {
		column := make([]float64, len(train))
		for n, i := range train {
			column[n] = c.x[k*rows+i]
		}
		x = append(x, column)
	}
	return x, train, test
}

func (c *contest) job() job {
	x, train, test := c.split()
	j := job{Columns: x, Trees: 100, Try: c.try, MinLeaf: c.leaf, Processors: runtime.GOMAXPROCS(0)}
	for _, i := range train {
		if z := bearing.Unit(c.y[i]); c.bearings {
			j.Target = append(j.Target, []float64{real(z), imag(z)})
		} else {
			j.Target = append(j.Target, []float64{c.y[i]})
		}
	}
	for _, i := range test {
		j.Test = append(j.Test, row(c.x, len(c.y), i))
	}
	return j
}

// off is the size of an answer's error.
func (c *contest) off(answer, want float64) float64 {
	if c.bearings {
		return math.Abs(bearing.Diff(answer, want))
	}
	return math.Abs(answer - want)
}

// TestForestsAgainstSklearn: on the same tables and test rows the errors are no
// larger than those of scikit-learn's RandomForestRegressor, by the 95 % interval
// of the paired differences.
func TestForestsAgainstSklearn(t *testing.T) {
	m := problem(900, 10, 11)
	third := func(i int) bool { return i%3 == 2 }
	all := []trees.Criterion{trees.SquaredError, trees.ResultantLength, trees.VonMises}
	contests := []contest{
		{"made-up numbers", m.x, m.number, false, third, all[:1], 4, 2},
		{"made-up bearings", m.x, m.deg, true, third, all, 4, 2},
	}
	for name, set := range reference(t).Regression {
		var x []float64
		for _, c := range set.Columns {
			for _, v := range c {
				x = append(x, float64(v))
			}
		}
		contests = append(contests, contest{name, x, set.Target, false, third, all[:1], 3, 2})
	}
	var jobs []job
	for _, c := range contests {
		jobs = append(jobs, c.job())
	}
	for k, theirs := range sklearn(t, jobs) {
		c := contests[k]
		x, train, test := c.split()
		var flat, y []float64
		for _, column := range x {
			flat = append(flat, column...)
		}
		for _, i := range train {
			y = append(y, c.y[i])
		}
		for _, criterion := range c.criterions {
			target := must(trees.Numbers(y, nil))
			if c.bearings {
				target = must(trees.Bearings(y, nil))
			}
			f, _ := mustForest(t, mustTable(t, flat, len(y), trees.MostBins), target,
				trees.Bagging{Growth: trees.Growth{Criterion: criterion, MinLeaf: c.leaf, Try: c.try}, Trees: jobs[k].Trees})
			var ours, others, diff, square float64
			n := float64(len(test))
			for at, i := range test {
				p, q := f.Predict(jobs[k].Test[at]), theirs.Answers[at]
				a, b := p.Number(), q[0]
				if c.bearings {
					a, b = p.BearingDeg(), bearing.FromVector(q[1], q[0])
				}
				a, b = c.off(a, c.y[i]), c.off(b, c.y[i])
				ours, others, diff, square = ours+a/n, others+b/n, diff+(a-b)/n, square+(a-b)*(a-b)/n
			}
			half := 1.96 * math.Sqrt((square-diff*diff)/n)
			t.Logf("%-17s criterion %d: mean absolute error %.4g, scikit-learn %.4g, difference %.2g +- %.2g", c.name, criterion, ours, others, diff, half)
			if diff-half > 0 {
				t.Errorf("%s, criterion %d: mean absolute error %.4g, scikit-learn %.4g, difference %.2g +- %.2g", c.name, criterion, ours, others, diff, half)
			}
		}
	}
}

// BenchmarkForest grows 200 trees on 5,000 rows of 60 columns, and scikit-learn
// the same on as many processors once; sklearn-s/op is its time, and
// sklearn/ours how many times ours that is.
func BenchmarkForest(b *testing.B) {
	m := problem(5000, 60, 1)
	table := m.table(b)
	x := make([][]float64, 60)
	for k := range x {
		x[k] = m.x[k*m.rows : (k+1)*m.rows]
	}
	number, vector := make([][]float64, m.rows), make([][]float64, m.rows)
	for i := range number {
		z := bearing.Unit(m.deg[i])
		number[i], vector[i] = []float64{m.number[i]}, []float64{real(z), imag(z)}
	}
	for _, c := range []struct {
		name   string
		y      *trees.Target
		theirs [][]float64
		growth trees.Growth
	}{
		{"numbers", must(trees.Numbers(m.number, nil)), number, trees.Growth{}},
		{"bearings", must(trees.Bearings(m.deg, nil)), vector, trees.Growth{Criterion: trees.VonMises}},
	} {
		for _, try := range []int{20, 60} {
			b.Run(fmt.Sprintf("%s-try-%d", c.name, try), func(b *testing.B) {
				c.growth.Try, c.growth.MinLeaf = try, 5
				for b.Loop() {
					if _, _, err := trees.GrowForest(b.Context(), table, c.y, trees.Bagging{Growth: c.growth, Trees: 200}, 1); err != nil {
						b.Fatal(err)
					}
				}
				ours := b.Elapsed().Seconds() / float64(b.N)
				theirs := sklearn(b, []job{{Columns: x, Target: c.theirs, Test: [][]float64{m.row(0)}, Trees: 200, Try: try, MinLeaf: 5, Processors: runtime.GOMAXPROCS(0)}})
				b.ReportMetric(theirs[0].Seconds, "sklearn-s/op")
				b.ReportMetric(theirs[0].Seconds/ours, "sklearn/ours")
			})
		}
	}
}
