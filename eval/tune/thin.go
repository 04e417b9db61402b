package tune

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"strikerose/eval"
	"strikerose/features"
	"strikerose/models"
)

// Step is one step of leaving features out.
type Step struct {
	Dropped  string   `json:"dropped"`  // group of features left out at this step; empty at the first
	Features []string `json:"features"` // names of those that are left
	Cost     Cost     `json:"cost"`     // what an answer takes with them
	// Errors are the errors on sessions held back, of a fit after as many steps that the
	// other sessions alone chose; n is 0 where those ended sooner.
	Errors Errors `json:"errors"`
}

// Thin leaves out features part by part (recursive elimination: Guyon, Weston,
// Barnhill and Vapnik 2002, Machine Learning 46:389-422): at each step the part
// whose exchange among the strikes learned from raises the criterion least for the
// operations that it saves. It ends where the family cannot do with less. What is
// stated beside an answer reads features of its own, which are not counted.
func Thin(ctx context.Context, ex []models.Example, f models.Family, o Options) ([]Step, error) {
	o = o.withDefaults()
	ex = inOrder(ex)
	folds, err := foldsOf(ex, o.Folds)
	if err != nil {
		return nil, err
	}
	sets := [][]models.Example{ex}
	for _, x := range folds {
		sets = append(sets, x.train)
	}
	paths := make([][]thinned, len(sets))
	err = eval.Parallel(ctx, len(sets), o.Workers, func(s int) (err error) {
		paths[s], err = thin(ctx, sets[s], f, o)
		return err
	})
	if err != nil {
		return nil, err
	}
	var out []Step
	for k, t := range paths[0] {
		step := Step{Dropped: t.dropped, Features: t.model.Reads(), Cost: t.cost}
		step.Errors = unseen(ex, folds, paths[1:], k, o)
		out = append(out, step)
	}
	return out, nil
}

// unseen measures step k on what each fold holds back, where every fold got as far.
func unseen(ex []models.Example, folds []fold, paths [][]thinned, k int, o Options) Errors {
	l := newLosses(len(ex))
	for x, path := range paths {
		if k >= len(path) {
			none := eval.NoFigure()
			return Errors{none, none, none}
		}
		for _, i := range folds[x].test {
			l.put(i, path[k].model.Estimate(ex[i].Input), ex[i])
		}
	}
	return l.errors(ex, o.Fit.Seed, fmt.Sprintf("step %d", k))
}

// thinned is a fit after some steps.
type thinned struct {
	dropped string
	model   *models.Model
	cost    Cost
}

// fewStrikes bounds how many strikes the order of leaving out is judged by, and
// fewShifts how many others each is held against: the order needs no more.
const (
	fewStrikes = 150
	fewShifts  = 2
)

func thin(ctx context.Context, ex []models.Example, f models.Family, o Options) ([]thinned, error) {
	fitted := func(only []string, dropped string) (thinned, error) {
		defer o.done()
		bare := o.Fit
		bare.Only, bare.Uncalibrated = only, true
		m, err := fit(ctx, f, ex, bare)
		if err != nil {
			return thinned{}, err
		}
		return thinned{dropped, m, costOf(m)}, nil
	}
	now, err := fitted(o.Fit.Only, "")
	if err != nil {
		return nil, err
	}
	if now.model.ReadsWindow() {
		return nil, errNoFeatures(f.Name)
	}
	path := []thinned{now}
	kept := map[string]bool{} // parts that cannot be spared
	for {
		part, ok := leastWorth(now.model, ex, kept, o.Fit.Seed+uint64(len(path)))
		if !ok {
			return path, nil
		}
		left := without(now.model.Reads(), part.Features)
		next, err := fitted(left, part.Name)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			kept[part.Name] = true
			continue
		}
		now = next
		path = append(path, now)
	}
}

// leastWorth finds the part to leave out next.
func leastWorth(m *models.Model, ex []models.Example, kept map[string]bool, seed uint64) (Group, bool) {
	few := make([]int, 0, fewStrikes)
	step := max(1, len(ex)/fewStrikes)
	for i := 0; i < len(ex); i += step {
		few = append(few, i)
	}
	rng := rand.New(rand.NewPCG(seed, 2000))
	l := newLosses(len(ex))
	var out Group
	least := math.Inf(1)
	for _, g := range Parts(m.Reads()) {
		if kept[g.Name] {
			continue
		}
		for _, own := range alike(ex, few) {
			l.raise(m, ex, own, g.Features, fewShifts, rng)
		}
		rise := 0.0
		for _, i := range few {
			rise += l.criterion[i] / float64(len(few))
		}
		// Of parts that are worth nothing the dearest goes first.
		worth := math.Max(rise, leastRise) / float64(max(macsOf(g.Features), 1))
		if worth < least {
			least, out = worth, g
		}
	}
	return out, out.Name != ""
}

// leastRise of the criterion that counts: less is chance.
const leastRise = 1e-3

func without(names, drop []string) []string {
	gone := map[string]bool{}
	for _, n := range drop {
		gone[n] = true
	}
	out := []string{}
	for _, n := range names {
		if !gone[n] {
			out = append(out, n)
		}
	}
	return out
}

// macsOf counts the operations of some features.
func macsOf(names []string) int {
	n := 0
	for _, name := range names {
		n += features.DefOf(name).Macs
	}
	return n
}

// costOf is what a detector's answers take, features and all.
func costOf(m *models.Model) Cost {
	info := m.Info()
	c := Cost{Macs: info.Cost.Macs + macsOf(m.Reads()), Numbers: info.Cost.Numbers, WaitMs: math.Max(info.WaitMs, info.GyroWaitMs)}
	for _, n := range m.Reads() {
		c.Numbers++
		if features.DefOf(n).Vector {
			c.Numbers++
		}
	}
	return c
}

// Within returns the position of the step with the least criterion among those
// that cost at most so many operations and numbers; 0 bounds nothing.
func Within(path []Step, most Cost) (int, error) {
	at := -1
	for k, s := range path {
		switch {
		case most.Macs > 0 && s.Cost.Macs > most.Macs,
			most.Numbers > 0 && s.Cost.Numbers > most.Numbers,
			!s.Errors.Criterion.Known():
			continue
		}
		if at < 0 || s.Errors.Criterion.Value < path[at].Errors.Criterion.Value {
			at = k
		}
	}
	if at < 0 {
		last := path[len(path)-1].Cost
		return 0, fmt.Errorf("tune: no step costs at most %d operations and %d numbers: the least is %d and %d", most.Macs, most.Numbers, last.Macs, last.Numbers)
	}
	return at, nil
}
