package drift

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"strikerose/dataset"
	"strikerose/eval"
	"strikerose/models"
)

// Finding is one number of a session held against the sessions trained on.
type Finding struct {
	Name string `json:"name"`
	Unit string `json:"unit"`
	Doc  string `json:"doc"`
	Of   string `json:"of"` // OfStrikes or OfBag
	// Trained and Now are medians of a spread, or the figures.
	Trained float64 `json:"trained"`
	Now     float64 `json:"now"`
	// Distance is Smirnov's, 0 to 1, of a spread; of a figure it is the difference
	// over its standard error.
	Distance float64 `json:"distance"`
	// Usual is the largest distance of a session trained on from the others; 0
	// where a single one was.
	Usual float64 `json:"usual"`
	P     float64 `json:"p"`
	PHolm float64 `json:"p_holm"` // corrected for all numbers of the session
	// Marked findings are unlikely and larger than usual.
	Marked bool   `json:"marked"`
	Words  string `json:"words,omitempty"` // what a marked one means
}

// What it takes to mark a finding, round numbers: the level is that of all numbers
// of a session together; leastDistance is what a spread must differ by to matter
// at all, beyondUsual how much more than sessions trained on differ.
const (
	level         = 0.01
	leastDistance = 0.15
	beyondUsual   = 1.25
)

// Compare holds a session against those that a detector was trained on. Only
// sessions of the same rig revision count; without any there is nothing to compare
// and ok is false. Findings keep the order of the numbers, strikes first.
func Compare(trained []models.Seen, now models.Seen) (all []Finding, ok bool) {
	var same []models.Seen
	for _, s := range trained {
		if s.Rig == now.Rig {
			same = append(same, s)
		}
	}
	if len(same) == 0 {
		return nil, false
	}
	for _, n := range numbers() {
		if f, ok := n.compare(same, now); ok {
			all = append(all, f)
		}
	}
	for _, g := range figures() {
		if f, ok := g.compare(same, now); ok {
			all = append(all, f)
		}
	}
	p := make([]float64, len(all))
	for i, f := range all {
		p[i] = f.P
	}
	for i, holm := range eval.Holm(p) {
		f := &all[i]
		f.PHolm = holm
		f.Marked = f.Marked && holm <= level
		if !f.Marked {
			f.Words = ""
		}
	}
	return all, true
}

// compare marks what is larger than usual; whether it is unlikely is told later,
// with the others.
func (n number) compare(trained []models.Seen, now models.Seen) (Finding, bool) {
	f := Finding{Name: n.name, Unit: n.unit, Doc: n.doc, Of: n.of}
	have, ok := spreadNamed(now, n.name)
	if !ok {
		return f, false
	}
	var old []models.SeenSpread
	for _, s := range trained {
		if p, ok := spreadNamed(s, n.name); ok {
			old = append(old, p)
		}
	}
	if len(old) == 0 {
		return f, false
	}
	f.Distance, f.P = smirnov(old, have)
	if len(old) > 1 {
		for i, p := range old {
			d, _ := smirnov(slices.Delete(slices.Clone(old), i, i+1), p)
			f.Usual = math.Max(f.Usual, d)
		}
	}
	x, w := pooled(old)
	f.Trained = stat.Quantile(0.5, stat.Empirical, x, w)
	f.Now = stat.Quantile(0.5, stat.Empirical, have.Quantiles, nil)
	f.Marked = f.Distance >= leastDistance && f.Distance > beyondUsual*f.Usual
	f.Words = n.more
	if f.Now < f.Trained {
		f.Words = n.less
	}
	f.Marked = f.Marked && f.Words != ""
	f.Words += fmt.Sprintf(" (%s: median %s, in training %s)", n.doc, text(f.Now, n.unit), text(f.Trained, n.unit))
	return f, true
}

func spreadNamed(s models.Seen, name string) (models.SeenSpread, bool) {
	for _, p := range s.Spreads {
		if p.Name == name {
			return p, true
		}
	}
	return models.SeenSpread{}, false
}

// pooled returns the quantiles of several spreads in order, each with the strikes
// that it stands for.
func pooled(all []models.SeenSpread) (x, weight []float64) {
	for _, p := range all {
		for _, q := range p.Quantiles {
			x = append(x, q)
			weight = append(weight, float64(p.N)/float64(len(p.Quantiles)))
		}
	}
	stat.SortWeighted(x, weight)
	return x, weight
}

// smirnov is the two-sample test: the largest difference of the distribution
// functions and the chance of one as large, by Kolmogorov's limit with Stephens's
// correction for finite samples (Stephens 1970, J. R. Stat. Soc. B 32:115-122,
// the form in common use).
func smirnov(old []models.SeenSpread, now models.SeenSpread) (distance, p float64) {
	x, w := pooled(old)
	distance = stat.KolmogorovSmirnov(x, w, now.Quantiles, nil)
	var n float64
	for _, s := range old {
		n += float64(s.N)
	}
	root := math.Sqrt(n * float64(now.N) / (n + float64(now.N)))
	return distance, kolmogorov((root + 0.12 + 0.11/root) * distance)
}

// kolmogorov is the chance that Kolmogorov's limit exceeds x: 2 sum (-1)^(k-1)
// exp(-2 k^2 x^2).
func kolmogorov(x float64) float64 {
	if x < 0.2 {
		return 1 // to twelve digits
	}
	var sum float64
	for k := 1; k <= 100; k++ {
		term := math.Exp(-2 * float64(k*k) * x * x)
		if k%2 == 0 {
			term = -term
		}
		sum += term
	}
	return math.Min(math.Max(2*sum, 0), 1)
}

func (g figure) compare(trained []models.Seen, now models.Seen) (Finding, bool) {
	f := Finding{Name: g.name, Unit: g.unit, Doc: g.doc, Of: OfBag}
	have, ok := figureNamed(now, g.name)
	if !ok {
		return f, false
	}
	var values []float64
	var variance float64
	for _, s := range trained {
		if v, ok := figureNamed(s, g.name); ok {
			values = append(values, v.Value)
			variance += v.SD * v.SD
		}
	}
	m := float64(len(values))
	if m == 0 {
		return f, false
	}
	mean := stat.Mean(values, nil)
	usual := g.usual
	if g.relative {
		usual *= math.Abs(mean)
	}
	sd := math.Sqrt(have.SD*have.SD + variance/(m*m) + usual*usual*(1+1/m))
	f.Trained, f.Now = mean, have.Value
	f.Distance = math.Abs(f.Now-f.Trained) / sd
	for _, v := range values {
		f.Usual = math.Max(f.Usual, math.Abs(v-mean)/sd)
	}
	f.P = 2 * distuv.UnitNormal.CDF(-f.Distance)
	f.Marked = true
	f.Words = g.more
	if f.Now < f.Trained {
		f.Words = g.less
	}
	f.Words += fmt.Sprintf(" (%s: %s, in training %s)", g.doc, text(f.Now, g.unit), text(f.Trained, g.unit))
	return f, true
}

func figureNamed(s models.Seen, name string) (models.SeenFigure, bool) {
	for _, f := range s.Figures {
		if f.Name == name {
			return f, true
		}
	}
	return models.SeenFigure{}, false
}

// text is a number with its unit, three digits.
func text(v float64, unit string) string {
	s := fmt.Sprintf("%.3g", v)
	if unit != "" {
		s += " " + dataset.UnitText(unit)
	}
	return s
}
