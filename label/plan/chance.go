package plan

import (
	"context"
	"fmt"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat"
)

// orders is how many random orders a plan is compared with.
const orders = 20

// minScore is how many standard deviations a plan must fit better than random
// orders of the same strikes. Measured on simulated sessions: plans of other
// sessions reach 3, the right ones 15 and more.
const minScore = 6.0

// Chance compares the fit of a plan with that of the same strikes in random
// order. Double hits stay together, so that what is compared is the order.
type Chance struct {
	Orders   int     // random orders tried; 0 where none can differ
	LogRatio float64 // of the plan as it is, by the same search
	Mean, SD float64 // of the random orders' log ratios, in nats
}

// Score is by how many standard deviations the plan fits better.
func (c Chance) Score() float64 { return (c.LogRatio - c.Mean) / c.SD }

// Better tells whether the plan fits better than chance.
func (c Chance) Better() bool { return c.Orders == 0 || c.Score() >= minScore }

func (c Chance) String() string {
	return fmt.Sprintf("log likelihood ratio %.0f nats against %.0f +- %.0f, a lead of %.1f standard deviations where %.0f are asked",
		c.LogRatio, c.Mean, c.SD, c.Score(), minScore)
}

// compareWithChance fits random orders of the entries with the sense of the
// given fit.
func (m *model) compareWithChance(ctx context.Context, entries []Entry, best params, seed uint64) (Chance, error) {
	c := Chance{LogRatio: best.logRatio}
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
