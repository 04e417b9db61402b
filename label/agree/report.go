package agree

import (
	"context"
	"math"

	"strikerose/dataset/bearing"
	"strikerose/label"
)

// Options of a report.
type Options struct {
	Seed      uint64
	Resamples int // 0 means 2000
}

// Level of all intervals.
const Level = 0.95

// flipDeg is the bearing error above which a strike counts as on the other
// side of the bag.
const flipDeg = 120

// Row is one measure of agreement. Numbers are NaN where there is none.
type Row struct {
	What      string   // strike, face, band, kind, bearing or height
	Labellers []string // compared; differences are the first less the second
	Measure   string
	Unit      string // "" for coefficients, deg, m, or share
	Value     float64
	Low, High float64 // interval at Level
	Strikes   int     // that two of the labellers or more speak of
}

// MostPaired is how many labellers are compared pair by pair at most: pairs grow as
// the square, and nobody reads thousands of rows.
const MostPaired = 30

// Report lists every measure of agreement that the ratings allow, all
// labellers first and then, of at most MostPaired, each pair of them. Intervals come
// from resampling strikes, those of biases and limits of heights from Student's t.
func (r *Ratings) Report(ctx context.Context, o Options) ([]Row, error) {
	if o.Resamples == 0 {
		o.Resamples = 2000
	}
	if r.Strikes == 0 {
		return nil, nil
	}
	b := bootstrap{strikes: r.Strikes, times: o.Resamples, seed: o.Seed}
	var rows []Row
	for _, q := range []struct {
		what    string
		ratings [][]float64
		scale   Scale
		alpha   string
		classes int // 0 for measurements
	}{
		{"strike", r.Struck, Nominal, "alpha, nominal", 2},
		{"face", r.Face, Nominal, "alpha, nominal", 1 + r.Faces},
		{"band", r.Band, Ordinal, "alpha, ordinal", len(r.Bands)},
		{"kind", r.Kind, Nominal, "alpha, nominal", len(label.Kinds())},
		{"bearing", r.BearingDeg, Circular, "alpha, circular", 0},
		{"height", r.HeightM, Interval, "alpha, interval", 0},
	} {
		v := newValues(q.ratings, q.scale)
		add := func(labellers []string, measure string, n int, f func(w []float64) float64) {
			if n > 0 {
				rows = append(rows, b.row(q.what, labellers, measure, "", n, f))
			}
		}
		add(r.Labellers, q.alpha, v.compared(), func(w []float64) float64 { return v.alpha(w).Value })
		if q.classes > 0 && len(r.Labellers) > 2 {
			counts, which := classCounts(q.ratings, q.classes)
			add(r.Labellers, "Fleiss' kappa", len(counts), func(w []float64) float64 {
				return fleissKappa(counts, pick(w, which))
			})
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if len(r.Labellers) > MostPaired {
			continue
		}
		for i := range r.Labellers {
			for j := i + 1; j < len(r.Labellers); j++ {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				two, x, y := []string{r.Labellers[i], r.Labellers[j]}, q.ratings[i], q.ratings[j]
				n := both(x, y)
				switch q.what {
				case "band":
					add(two, "kappa, linear", n, kappaOf(x, y, q.classes, Linear))
					fallthrough
				case "strike", "face", "kind":
					add(two, "kappa", n, kappaOf(x, y, q.classes, Plain))
				case "bearing":
					rows = append(rows, b.turnRows(two, n, turns(x, y))...)
				case "height":
					rows = append(rows, limitRows(two, NewLimits(x, y))...)
				}
			}
		}
	}
	return rows, nil
}

func kappaOf(a, b []float64, classes int, d Disagreement) func([]float64) float64 {
	return func(w []float64) float64 { return Kappa(crossTable(a, b, w, classes), d) }
}

// row is a measure with its interval.
func (b bootstrap) row(what string, labellers []string, measure, unit string, n int, f func(w []float64) float64) Row {
	low, high := b.interval(f)
	return Row{what, labellers, measure, unit, f(ones(b.strikes)), low, high, n}
}

// turnRows are the rows of a pair's differences in bearing.
func (b bootstrap) turnRows(two []string, n int, turnDeg []float64) []Row {
	if n == 0 {
		return nil
	}
	mean, _ := meanTurn(turnDeg, ones(b.strikes))
	return []Row{
		// A draw's mean beyond the cut at 180 degrees stays on the mean's side of it.
		b.row("bearing", two, "mean difference", "deg", n, func(w []float64) float64 {
			m, _ := meanTurn(turnDeg, w)
			return mean + bearing.Diff(m, mean)
		}),
		b.row("bearing", two, "standard deviation", "deg", n, func(w []float64) float64 {
			_, sd := meanTurn(turnDeg, w)
			return sd
		}),
		b.row("bearing", two, "flips", "share", n, func(w []float64) float64 {
			hits, known := 0.0, 0.0
			for i, t := range turnDeg {
				if !math.IsNaN(t) {
					known += w[i]
				}
				if math.Abs(t) > flipDeg {
					hits += w[i]
				}
			}
			return hits / known
		}),
	}
}

// limitRows are the rows of a pair's differences in height.
func limitRows(two []string, l Limits) []Row {
	if l.N < 2 {
		return nil
	}
	return []Row{
		{"height", two, "bias", "m", l.Bias, l.Bias - l.BiasHalf, l.Bias + l.BiasHalf, l.N},
		{"height", two, "lower limit", "m", l.Low, l.Low - l.LimitHalf, l.Low + l.LimitHalf, l.N},
		{"height", two, "upper limit", "m", l.High, l.High - l.LimitHalf, l.High + l.LimitHalf, l.N},
	}
}

// compared is how many strikes have two values or more.
func (v *values) compared() int {
	n := 0
	for _, said := range v.strikes {
		if said.n >= 2 {
			n++
		}
	}
	return n
}

// both is how many strikes a and b both speak of.
func both(a, b []float64) int {
	n := 0
	for i := range a {
		if !math.IsNaN(a[i]) && !math.IsNaN(b[i]) {
			n++
		}
	}
	return n
}

// pick returns the elements at some positions.
func pick(x []float64, at []int) []float64 {
	out := make([]float64, len(at))
	for i, k := range at {
		out[i] = x[k]
	}
	return out
}
