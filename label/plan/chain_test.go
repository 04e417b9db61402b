package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// enumerate adds up every way through a small chain by trying them all, and
// the share of each (find, class) and of the steps.
type enumerate struct {
	fb                                 *chain
	miss, extra                        float64
	total, matches, misses, extraSteps float64
	post                               []float64
}

func (e *enumerate) all() {
	finds, entries := len(e.fb.m.finds), len(e.fb.m.class)
	outside := func(from, to int) float64 {
		p := 1.0
		for j := from; j < to; j++ {
			p *= e.fb.extra[j]
		}
		return p
	}
	leave := func(j, i int) float64 {
		p := 0.0
		if j == finds && i == entries {
			p += 1 - endRate
		}
		if j == finds && i < entries {
			p += endRate / 2 / float64(entries)
		}
		if i == entries && j < finds {
			p += endRate / 2 / float64(finds) * outside(j, finds)
		}
		return p
	}
	var walk func(j, i int, p float64, match [][2]int, missed, extras int)
	walk = func(j, i int, p float64, match [][2]int, missed, extras int) {
		if q := p * leave(j, i); q > 0 {
			e.total += q
			e.matches += q * float64(len(match))
			e.misses += q * float64(missed)
			e.extraSteps += q * float64(extras)
			for _, m := range match {
				e.post[m[0]*len(e.fb.m.classes)+m[1]] += q
			}
		}
		if j < finds && i < entries {
			c := e.fb.m.class[i]
			walk(j+1, i+1, p*(1-e.miss-e.extra)*e.fb.match[j*len(e.fb.m.classes)+c], append(match[:len(match):len(match)], [2]int{j, c}), missed, extras)
		}
		if i < entries {
			walk(j, i+1, p*e.miss, match, missed+1, extras)
		}
		if j < finds {
			walk(j+1, i, p*e.extra*e.fb.extra[j], match, missed, extras+1)
		}
	}
	walk(0, 0, 1-endRate, nil, 0, 0)
	for i := 1; i <= entries; i++ {
		walk(0, i, endRate/2/float64(entries), nil, 0, 0)
	}
	for j := 1; j <= finds; j++ {
		walk(j, 0, endRate/2/float64(finds)*outside(0, j), nil, 0, 0)
	}
}

func TestChainEqualsEnumeration(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 1))
		entries := randomPlan(1+rng.IntN(5), rng)
		finds, _ := blur{sdDeg: 20, hookDeg: 20, extras: 1 + rng.IntN(2), heightSD: 0.1}.finds(carryOut(entries, rng), rng)
		m := newModel(entries, finds, 6)
		fb := newChain(m)
		p := m.start(1, 10)
		m.likelihood(p, fb)
		e := enumerate{fb: fb, miss: 0.2, extra: 0.15, post: make([]float64, len(fb.post))}
		e.all()
		fb.run(e.miss, e.extra)
		close := func(what string, got, want float64) {
			t.Helper()
			if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
				t.Errorf("seed %d: %s is %g, by enumeration %g", seed, what, got, want)
			}
		}
		close("log ratio", fb.logRatio, math.Log(e.total))
		close("matches", fb.matches, e.matches/e.total)
		close("misses", fb.misses, e.misses/e.total)
		close("extras", fb.extras, e.extraSteps/e.total)
		for k := range e.post {
			close("posterior", fb.post[k], e.post[k]/e.total)
		}
	}
}

// TestLikelihoodGrows: without height features, whose weight makes their
// likelihood an approximation, expectation maximisation never loses.
func TestLikelihoodGrows(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	entries := randomPlan(60, rng)
	finds, _ := blur{sdDeg: 8, hookDeg: 20, flipLow: 0.6, dropShare: 0.05, extras: 4}.finds(carryOut(entries, rng), rng)
	m := newModel(entries, finds, 6)
	fb := newChain(m)
	for _, offsetDeg := range []float64{0, 90, 210} {
		p := m.start(1, offsetDeg)
		last := math.Inf(-1)
		for round := range 15 {
			p = m.round(fb, p)
			// The priors on rates, shares and concentrations may cost a little.
			if p.logRatio < last-0.5 {
				t.Errorf("from %g degrees, round %d: log ratio falls from %.2f to %.2f", offsetDeg, round, last, p.logRatio)
			}
			last = p.logRatio
		}
	}
}
