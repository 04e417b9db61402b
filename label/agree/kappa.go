package agree

import "math"

// Disagreement weighs how far apart two classes are, by their positions; 0 for
// the same.
type Disagreement func(i, j int) float64

// Plain counts any two classes as equally far apart.
func Plain(i, j int) float64 {
	if i == j {
		return 0
	}
	return 1
}

// Linear counts the steps between ordered classes.
func Linear(i, j int) float64 { return math.Abs(float64(i - j)) }

// Quadratic counts the squared steps between ordered classes.
func Quadratic(i, j int) float64 { return float64((i - j) * (i - j)) }

// Kappa is Cohen's kappa of two labellers from how often one named class i
// where the other named class j: one less the observed over the expected
// disagreement (Cohen 1960, Educational and Psychological Measurement 20:37-46;
// weighted: Cohen 1968, Psychological Bulletin 70:213-220). It is NaN where no
// disagreement is to be expected, since both name one and the same class.
func Kappa(table [][]float64, d Disagreement) float64 {
	rows, columns := make([]float64, len(table)), make([]float64, len(table))
	n := 0.0
	for i, row := range table {
		for j, x := range row {
			rows[i] += x
			columns[j] += x
			n += x
		}
	}
	observed, expected := 0.0, 0.0
	for i, row := range table {
		for j, x := range row {
			observed += d(i, j) * x
			expected += d(i, j) * rows[i] * columns[j] / n
		}
	}
	if !(expected > 0) {
		return math.NaN()
	}
	return 1 - observed/expected
}

// crossTable counts what labellers a and b say of the strikes that both name
// a class of, each strike w times; classes are 0 to classes-1.
func crossTable(a, b, w []float64, classes int) [][]float64 {
	table := make([][]float64, classes)
	for i := range table {
		table[i] = make([]float64, classes)
	}
	for i := range a {
		if !math.IsNaN(a[i]) && !math.IsNaN(b[i]) {
			table[int(a[i])][int(b[i])] += w[i]
		}
	}
	return table
}

// FleissKappa is the kappa of three labellers or more (Fleiss 1971,
// Psychological Bulletin 76:378-382), from how many of them named each class of
// each strike, by strike and class. Each strike must have been named by the
// same number of labellers, two at least; it panics otherwise. It is NaN where
// all name one class.
func FleissKappa(counts [][]float64) float64 { return fleissKappa(counts, ones(len(counts))) }

// fleissKappa counts each strike w times.
func fleissKappa(counts [][]float64, w []float64) float64 {
	if len(counts) == 0 {
		return math.NaN()
	}
	share := make([]float64, len(counts[0]))
	labellers, strikes, agreed := 0.0, 0.0, 0.0
	for i, row := range counts {
		m, same := 0.0, 0.0
		for j, x := range row {
			m += x
			same += x * (x - 1)
			share[j] += w[i] * x
		}
		if labellers == 0 {
			labellers = m
		}
		if m != labellers || m < 2 {
			panic("agree: each strike must be named by the same number of labellers, two at least")
		}
		agreed += w[i] * same / (m * (m - 1))
		strikes += w[i]
	}
	expected := 0.0
	for _, s := range share {
		p := s / (strikes * labellers)
		expected += p * p
	}
	if !(expected < 1) {
		return math.NaN()
	}
	return (agreed/strikes - expected) / (1 - expected)
}

// classCounts counts the labellers that name each class, strike by strike, of
// the strikes that all of them name; which gives those strikes.
func classCounts(ratings [][]float64, classes int) (counts [][]float64, which []int) {
	for i := range ratings[0] {
		row := make([]float64, classes)
		all := true
		for _, r := range ratings {
			if all = all && !math.IsNaN(r[i]); all {
				row[int(r[i])]++
			}
		}
		if all {
			counts = append(counts, row)
			which = append(which, i)
		}
	}
	return counts, which
}
