package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat"
)

// orders is how many random orders a plan is compared with.
const orders = 12

// A plan must fit better than random orders of the same strikes by minScore
// standard deviations. Besides, it must lead by minLeadNats for each strike
// that could be matched, or, since an order of strikes that are nearly all
// alike tells little, be likelier than pushes from anywhere by minFitNats for
// each. Measured on twelve simulated sessions: the right plans lead by 1.5
// nats and more a strike, by 20 deviations and more; plans of other sessions
// by at most 0.3 and 10 (double hits agree by their rhythm), and fit worse
// than pushes from anywhere.
const (
	minScore    = 6.0
	minLeadNats = 0.6
	minFitNats  = 1.0
)

// Chance compares the fit of a plan with that of the same strikes in random
// order. Double hits stay together, so that what is compared is the order.
type Chance struct {
	Orders   int     // random orders tried; 0 where none can differ
	Strikes  int     // that could be matched: the fewer of entries and finds
	LogRatio float64 // of the plan as it is, against pushes from anywhere, in nats
	Mean, SD float64 // of the random orders' log ratios
	Called   bool    // the ratios count the times of calls, in any order
}

// Score is by how many standard deviations the plan fits better.
func (c Chance) Score() float64 { return (c.LogRatio - c.Mean) / c.SD }

// LeadNats is by how much the plan fits better, for each strike that could be
// matched.
func (c Chance) LeadNats() float64 { return (c.LogRatio - c.Mean) / float64(c.Strikes) }

// FitNats is how much likelier the plan is than pushes from anywhere, for each
// strike that could be matched.
func (c Chance) FitNats() float64 { return c.LogRatio / float64(c.Strikes) }

// Better tells whether the plan fits better than chance. Where all entries
// are alike no order can be worse, and the pushes must be alike instead.
func (c Chance) Better() bool {
	if c.Orders == 0 {
		return c.LogRatio > 0
	}
	fit := c.FitNats()
	if c.Called { // that is no merit of the order
		fit -= math.Log(callGain)
	}
	return c.Score() >= minScore && (c.LeadNats() >= minLeadNats || fit >= minFitNats)
}

func (c Chance) String() string {
	if c.Orders == 0 {
		return fmt.Sprintf("all entries alike; %.3g times as likely as pushes from anywhere", math.Exp(c.LogRatio))
	}
	return fmt.Sprintf("each strike %.1f times as likely, by %.1f standard deviations over %d random orders, where %.1f and %.0f are asked",
		math.Exp(c.LeadNats()), c.Score(), c.Orders, math.Exp(minLeadNats), minScore)
}

// compareWithChance fits random orders of the entries with the sense of the
// given fit.
func (m *model) compareWithChance(ctx context.Context, entries []Entry, best params, seed uint64) (Chance, error) {
	c := Chance{LogRatio: best.logRatio, Strikes: min(len(entries), len(m.finds)), Called: m.calls != nil}
	if same(m.class) {
		return c, nil
	}
	rng := rand.New(rand.NewPCG(seed, 0x706c616e)) // "plan"
	shuffled := *m
	var ratios []float64
	for range orders {
		shuffled.setEntries(shuffle(entries, rng))
		p, err := shuffled.search(ctx, best.sense, quick())
		if err != nil {
			return c, err
		}
		ratios = append(ratios, p.logRatio)
	}
	c.Orders = orders
	c.Mean, c.SD = stat.MeanStdDev(ratios, nil)
	c.SD = max(c.SD, 1) // a nat: short plans have few orders
	return c, nil
}

func same(class []int) bool {
	for _, c := range class {
		if c != class[0] {
			return false
		}
	}
	return true
}

// shuffle puts entries in random order; a second hit stays behind its first.
func shuffle(entries []Entry, rng *rand.Rand) []Entry {
	var units [][]Entry
	for i, e := range entries {
		if i > 0 && e.Pair == "two" && entries[i-1].Pair == "one" {
			units[len(units)-1] = append(units[len(units)-1], e)
			continue
		}
		units = append(units, []Entry{e})
	}
	rng.Shuffle(len(units), func(i, j int) { units[i], units[j] = units[j], units[i] })
	var out []Entry
	for _, u := range units {
		out = append(out, u...)
	}
	return out
}
