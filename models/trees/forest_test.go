package trees_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/models/trees"
)

func mustForest(t testing.TB, table *trees.Table, y *trees.Target, b trees.Bagging) (*trees.Forest, []trees.Prediction) {
	t.Helper()
	f, out, err := trees.GrowForest(t.Context(), table, y, b, 3)
	if err != nil {
		t.Fatal(err)
	}
	return f, out
}

func mustBoost(t testing.TB, table *trees.Table, y *trees.Target, b trees.Boosting, held []bool) *trees.Boosted {
	t.Helper()
	f, err := trees.Boost(t.Context(), table, y, b, held, 3)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func usualForest(c trees.Criterion) trees.Bagging {
	return trees.Bagging{Growth: trees.Growth{Criterion: c, MinLeaf: 3, Try: 5}, Trees: 60}
}

func usualBoosting() trees.Boosting {
	return trees.Boosting{Loss: trees.Plane, Depth: 4, MinLeaf: 5, Rounds: 150, Rate: 0.1, Rows: 0.7, Patience: 15}
}

// TestForestsBeatTrees: on rows that they have not seen forests and boosting err
// less than one tree, and what a forest says out of bag is about that error.
func TestForestsBeatTrees(t *testing.T) {
	train, test := problem(600, 8, 1), problem(300, 8, 2)
	table := train.table(t)
	number, deg := mustNumbers(t, train.number), mustBearings(t, train.deg)
	tree := mustGrow(t, table, deg, trees.Growth{Criterion: trees.VonMises, MinLeaf: 3})
	single := test.bearingError(func(r []float64) float64 { return tree.Predict(r).BearingDeg() })
	for _, c := range []trees.Criterion{trees.SquaredError, trees.ResultantLength, trees.VonMises} {
		f, bag := mustForest(t, table, deg, usualForest(c))
		many := test.bearingError(func(r []float64) float64 { return f.Predict(r).BearingDeg() })
		i := -1
		out := train.bearingError(func([]float64) float64 { i++; return bag[i].BearingDeg() })
		t.Logf("bearings, criterion %d: tree %.2f deg, forest %.2f, out of bag %.2f", c, single, many, out)
		if many > 0.95*single || math.Abs(out/many-1) > 0.2 {
			t.Errorf("bearings, criterion %d: tree %.2f deg, forest %.2f, out of bag %.2f", c, single, many, out)
		}
	}
	for _, loss := range []trees.Loss{trees.Plane, trees.Angle} {
		o := usualBoosting()
		o.Loss = loss
		b := mustBoost(t, table, deg, o, nil)
		got := test.bearingError(b.BearingDeg)
		t.Logf("bearings, boosted %s: %.2f deg", loss, got)
		if got > 0.95*single {
			t.Errorf("bearings, boosted %s: %.2f deg, a tree %.2f", loss, got, single)
		}
	}
	tree = mustGrow(t, table, number, trees.Growth{MinLeaf: 3})
	single = test.numberError(func(r []float64) float64 { return tree.Predict(r).Number() })
	f, _ := mustForest(t, table, number, usualForest(trees.SquaredError))
	many := test.numberError(func(r []float64) float64 { return f.Predict(r).Number() })
	boosted := test.numberError(mustBoost(t, table, number, usualBoosting(), nil).Number)
	t.Logf("numbers: tree %.3f, forest %.3f, boosted %.3f", single, many, boosted)
	if many > 0.9*single || boosted > 0.8*single {
		t.Errorf("numbers: tree %.3f, forest %.3f, boosted %.3f", single, many, boosted)
	}
}

// TestForestKnowsItsSpread: its von Mises distributions of single rows tell more
// than one concentration for all, and its standard deviations of numbers are
// those of the errors.
func TestForestKnowsItsSpread(t *testing.T) {
	train, test := problem(2000, 6, 3), problem(400, 6, 4)
	table := train.table(t)
	b := usualForest(trees.VonMises)
	b.MinLeaf = 10
	f, _ := mustForest(t, table, mustBearings(t, train.deg), b)
	var own float64
	var errs, kappas []float64
	var quiet, noisy []float64
	for i := range test.rows {
		p := f.Predict(test.row(i))
		d := bearing.Diff(p.BearingDeg(), test.deg[i])
		own += bearing.VonMisesLogDensity(d, p.Kappa()) / float64(test.rows)
		errs, kappas = append(errs, d), append(kappas, p.Kappa())
		if test.noise[i] < 10 {
			quiet = append(quiet, p.R())
		} else {
			noisy = append(noisy, p.R())
		}
	}
	var cos, one float64
	for _, d := range errs {
		cos += math.Cos(bearing.Rad(d)) / float64(len(errs))
	}
	for _, d := range errs {
		one += bearing.VonMisesLogDensity(d, bearing.A1Inv(cos)) / float64(len(errs))
	}
	t.Logf("mean log density %.3f with own concentrations, %.3f with the best single one; mean resultant %.3f where quiet, %.3f where noisy", own, one, mean(quiet), mean(noisy))
	if own <= one || mean(quiet) <= mean(noisy) {
		t.Errorf("mean log density %.3f with own concentrations, %.3f with the best single one; mean resultant %.3f where quiet, %.3f where noisy", own, one, mean(quiet), mean(noisy))
	}
	b.Criterion = trees.SquaredError
	f, _ = mustForest(t, table, mustNumbers(t, train.number), b)
	within := 0
	for i := range test.rows {
		if p := f.Predict(test.row(i)); math.Abs(p.Number()-test.number[i]) <= 1.645*p.SD {
			within++
		}
	}
	if share := float64(within) / float64(test.rows); share < 0.85 || share > 0.995 {
		t.Errorf("%.3f of numbers lie within 1.645 standard deviations, want at least some 0.9", share)
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// TestShuffledLabels: what nothing decides cannot be told.
func TestShuffledLabels(t *testing.T) {
	train, test := problem(500, 6, 5), problem(300, 6, 6)
	rand.New(rand.NewPCG(1, 1)).Shuffle(train.rows, func(i, j int) {
		train.number[i], train.number[j] = train.number[j], train.number[i]
		train.deg[i], train.deg[j] = train.deg[j], train.deg[i]
	})
	table := train.table(t)
	held := make([]bool, train.rows)
	for i := range held {
		held[i] = i%5 == 0
	}
	f, bag := mustForest(t, table, mustBearings(t, train.deg), usualForest(trees.VonMises))
	i := -1
	out := train.bearingError(func([]float64) float64 { i++; return bag[i].BearingDeg() })
	forest := test.bearingError(func(r []float64) float64 { return f.Predict(r).BearingDeg() })
	boosted := test.bearingError(mustBoost(t, table, mustBearings(t, train.deg), usualBoosting(), held).BearingDeg)
	all, _ := bearing.Mean(train.deg)
	chance := test.bearingError(func([]float64) float64 { return all })
	t.Logf("bearings: out of bag %.1f deg, forest %.1f, boosted %.1f, their mean %.1f", out, forest, boosted, chance)
	if min(out, forest, boosted) < 0.9*chance {
		t.Errorf("bearings: out of bag %.1f deg, forest %.1f, boosted %.1f, want no less than the %.1f of their mean", out, forest, boosted, chance)
	}
	b := mustBoost(t, table, mustNumbers(t, train.number), usualBoosting(), held)
	if n := len(b.Trees()); n > 40 {
		t.Errorf("boosting learned from noise for %d rounds", n)
	}
}

// TestEarlyStopping: the trees end where the rows held back liked it best.
func TestEarlyStopping(t *testing.T) {
	m := problem(500, 6, 7)
	held := make([]bool, m.rows)
	for i := range held {
		held[i] = i >= 400
	}
	o := usualBoosting()
	o.Rate, o.Rounds = 0.3, 400
	table, y := m.table(t), mustNumbers(t, m.number)
	b := mustBoost(t, table, y, o, held)
	if n := len(b.Trees()); n < 5 || n > 300 {
		t.Fatalf("%d trees", n)
	}
	loss := func(b *trees.Boosted) float64 {
		sum := 0.0
		for i := 400; i < m.rows; i++ {
			sum += math.Pow(b.Number(m.row(i))-m.number[i], 2)
		}
		return sum
	}
	for _, rounds := range []int{1, len(b.Trees()) - 1, len(b.Trees()) + 1, len(b.Trees()) + 10} {
		o.Rounds, o.Patience = rounds, 1000
		if other := mustBoost(t, table, y, o, held); loss(other) < loss(b) {
			t.Errorf("%d rounds have a loss of %g, the %d kept %g", rounds, loss(other), len(b.Trees()), loss(b))
		}
	}
}

// TestProcessors: the same trees come from one processor as from many.
func TestProcessors(t *testing.T) {
	m := problem(2500, 20, 8)
	fit := func() string {
		table := m.table(t)
		f, bag := mustForest(t, table, mustBearings(t, m.deg), trees.Bagging{Growth: trees.Growth{Criterion: trees.VonMises, MinLeaf: 5, Try: 6}, Trees: 12})
		o := usualBoosting()
		o.Rounds = 12
		data, err := json.Marshal([]any{f, mustBoost(t, table, mustNumbers(t, m.number), o, nil)})
		if err != nil {
			t.Fatal(err)
		}
		sum := complex128(0)
		for _, p := range bag {
			if !math.IsNaN(real(p.Mean)) {
				sum += p.Mean
			}
		}
		more, _ := json.Marshal([]float64{real(sum), imag(sum)})
		return string(data) + string(more)
	}
	many := fit()
	before := runtime.GOMAXPROCS(1)
	one := fit()
	runtime.GOMAXPROCS(before + 3)
	more := fit()
	runtime.GOMAXPROCS(before)
	if one != many || more != many {
		t.Error("the number of processors changed the trees")
	}
}

func TestAnswersDoNotAllocate(t *testing.T) {
	m := problem(200, 5, 9)
	table := m.table(t)
	f, _ := mustForest(t, table, mustBearings(t, m.deg), usualForest(trees.VonMises))
	b := mustBoost(t, table, mustNumbers(t, m.number), usualBoosting(), nil)
	r := m.row(0)
	sum := 0.0
	if n := testing.AllocsPerRun(100, func() { sum += f.Predict(r).BearingDeg() + b.Number(r) }); n != 0 {
		t.Errorf("%g allocations an answer", n)
	}
}

func TestCancelled(t *testing.T) {
	m := problem(50, 5, 1)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := trees.GrowForest(ctx, m.table(t), mustNumbers(t, m.number), usualForest(trees.SquaredError), 1); !errors.Is(err, context.Canceled) {
		t.Errorf("forest: error %v; want the context's", err)
	}
	if _, err := trees.Boost(ctx, m.table(t), mustNumbers(t, m.number), usualBoosting(), nil, 1); !errors.Is(err, context.Canceled) {
		t.Errorf("boosting: error %v; want the context's", err)
	}
}
