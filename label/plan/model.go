package plan

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"strikerose/dataset/bearing"
)

// Constants of the model. The rates of double hits, the weight of the height
// features and the share of pushes from anywhere were chosen on simulated
// sessions of four rigs; common practice, no source.
const (
	anywhere     = 0.05 // share of matched pushes that say nothing
	closeS       = 0.5  // finds nearer than this to the last are close
	heightWeight = 0.4
	heightClip   = 6.0
	startRate    = 0.03 // of misses and extras
	startFlip    = 0.2
	endRate      = 0.1 // probability that either end of plan or session is cut off
	maxRate      = 0.4
	minKappa     = 0.2
	maxKappa     = 400.0
)

// class is what the model can tell apart among entries.
type class struct {
	face, band     int // band as position in model.bands
	hook, tap, two bool
	aim            int // position in model.aims
}

// aim is what pushes depend on.
type aim struct {
	face int
	hook bool
}

// model holds what is known before fitting.
type model struct {
	faces   int
	bands   []string // in order of first use
	classes []class
	aims    []aim
	class   []int // of each entry
	finds   []Find

	push  []complex128 // exp(i push), 0 where unknown
	close []bool       // within closeS of the last find
	pairs bool         // the plan marks second hits
	calls []float64    // see callRatios; by position in the plan, whatever stands there

	mean, variance []float64 // of each height feature over all finds
}

// params are fitted.
type params struct {
	sense     int
	offsetDeg float64
	kappa     [2]float64 // of all but hooks, of hooks
	flip      []float64  // by band
	miss      float64
	extra     float64
	height    [][2][]gauss // by band, tap; by feature; nil while not learned
	logRatio  float64      // at the start of the last round
}

type gauss struct{ mean, variance float64 }

func newModel(entries []Entry, finds []Find, faces int) *model {
	m := &model{faces: faces, finds: finds, push: make([]complex128, len(finds)), close: make([]bool, len(finds))}
	m.setEntries(entries)
	m.calls = callRatios(entries, finds)
	for j, f := range finds {
		if finite(f.PushBearingDeg) {
			m.push[j] = bearing.Unit(f.PushBearingDeg)
		}
		m.close[j] = j > 0 && f.TimeS-finds[j-1].TimeS < closeS
	}
	for d := range finds[0].Height {
		mean, variance := spread(finds, d)
		m.mean, m.variance = append(m.mean, mean), append(m.variance, variance)
	}
	return m
}

// setEntries sorts entries into classes; those of an earlier call are kept, so
// that another order of the same entries has the same classes.
func (m *model) setEntries(entries []Entry) {
	m.class = make([]int, len(entries))
	for i, e := range entries {
		b := slices.Index(m.bands, e.Band)
		if b < 0 {
			b = len(m.bands)
			m.bands = append(m.bands, e.Band)
		}
		c := class{face: e.Face, band: b, hook: e.Kind == "hook", tap: e.Kind == "tap", two: e.Pair == "two"}
		if c.aim = slices.Index(m.aims, aim{c.face, c.hook}); c.aim < 0 {
			c.aim = len(m.aims)
			m.aims = append(m.aims, aim{c.face, c.hook})
		}
		m.pairs = m.pairs || c.two
		k := slices.Index(m.classes, c)
		if k < 0 {
			k = len(m.classes)
			m.classes = append(m.classes, c)
		}
		m.class[i] = k
	}
}

// spread returns mean and variance of a height feature; the variance is 0
// where it says nothing.
func spread(finds []Find, d int) (mean, variance float64) {
	var known []float64
	for _, f := range finds {
		if x := f.Height[d]; finite(x) {
			known = append(known, x)
		}
	}
	if len(known) < 2 {
		return 0, 0
	}
	mean, variance = stat.PopMeanVariance(known, nil)
	if !finite(variance) || variance < 1e-18*mean*mean {
		return mean, 0
	}
	return mean, variance
}

// startKappa is the first guess of a concentration: 16 degrees of scatter, 24
// for hooks.
func startKappa(hook int) float64 { return [2]float64{14, 6}[hook] }

func (m *model) start(sense int, offsetDeg float64) params {
	p := params{sense: sense, offsetDeg: offsetDeg, kappa: [2]float64{startKappa(0), startKappa(1)}, miss: startRate, extra: startRate}
	p.flip = make([]float64, len(m.bands))
	for b := range p.flip {
		p.flip[b] = startFlip
	}
	return p
}

// effort says how widely to search: starts over the offset, rounds for each,
// how many of the best go on, and for how many rounds.
type effort struct{ starts, rounds, keep, moreRounds int }

func thorough() effort { return effort{starts: 12, rounds: 4, keep: 3, moreRounds: 12} }
func quick() effort    { return effort{starts: 12, rounds: 2, keep: 1, moreRounds: 5} }

// search fits the model from several starts and returns the likeliest.
func (m *model) search(ctx context.Context, sense int, e effort) (params, error) {
	fb := newChain(m)
	var found []params
	run := func(p params, rounds int) (params, error) {
		for range rounds {
			if err := ctx.Err(); err != nil {
				return p, err
			}
			p = m.round(fb, p)
		}
		return p, nil
	}
	for k := range e.starts {
		p, err := run(m.start(sense, 360*float64(k)/float64(e.starts)), e.rounds)
		if err != nil {
			return p, err
		}
		found = append(found, p)
	}
	byRatio := func(a, b params) int {
		switch {
		case a.logRatio > b.logRatio:
			return -1
		case a.logRatio < b.logRatio:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(found, byRatio)
	found = found[:min(e.keep, len(found))]
	for k := range found {
		p, err := run(found[k], e.moreRounds)
		if err != nil {
			return p, err
		}
		found[k] = p
	}
	slices.SortStableFunc(found, byRatio)
	return found[0], nil
}

// likelihood fills in, for each find, how much likelier each class and an
// extra are than a push from anywhere at a height like any other. The chance
// that a find is as close to the last as it is goes into both.
func (m *model) likelihood(p params, fb *chain) {
	m.pushRatios(p, fb)
	groups := m.heightRatios(p)
	n := len(m.classes)
	for j := range m.finds {
		fb.extra[j] = m.pairRate(j, 0.3)
		single, second := m.pairRate(j, 0.01), m.pairRate(j, 0.93)
		for c, cl := range m.classes {
			r := 1.0
			if m.push[j] != 0 {
				k, f := j*len(m.aims)+cl.aim, p.flip[cl.band]
				r = (1-anywhere)*((1-f)*fb.straight[k]+f*fb.turned[k]) + anywhere
			}
			if cl.two {
				r *= second
			} else {
				r *= single
			}
			if groups != nil {
				r *= groups[2*cl.band+index(cl.tap)][j]
			}
			fb.match[j*n+c] = r
		}
	}
}

// pushRatios works out, for each find and aim, the von Mises densities of the
// push at the expected bearing and at its opposite, against a uniform density:
// exp(kappa cos) / I0(kappa).
func (m *model) pushRatios(p params, fb *chain) {
	var scale [2]float64
	for h, kappa := range p.kappa {
		scale[h] = math.Exp(kappa - bearing.LogI0(kappa))
	}
	for k, a := range m.aims {
		toward := bearing.Unit(p.offsetDeg + m.faceDeg(p.sense, a.face))
		h := index(a.hook)
		for j, push := range m.push {
			cos := real(push)*real(toward) + imag(push)*imag(toward)
			fb.straight[j*len(m.aims)+k] = scale[h] * math.Exp(p.kappa[h]*(cos-1))
			fb.turned[j*len(m.aims)+k] = scale[h] * math.Exp(p.kappa[h]*(-cos-1))
		}
	}
}

func (m *model) faceDeg(sense, face int) float64 {
	return float64(sense) * bearing.FaceCentre(face, m.faces)
}

// index is 1 for true.
func index(b bool) int {
	if b {
		return 1
	}
	return 0
}

// pairRate is the probability of find j being as close to the last as it is,
// where closeRate of such finds are close; 1 where the plan marks no pairs.
func (m *model) pairRate(j int, closeRate float64) float64 {
	switch {
	case !m.pairs:
		return 1
	case m.close[j]:
		return closeRate
	}
	return 1 - closeRate
}

// heightRatios returns, by group (band and tap) and find, how much likelier
// the height features are in the group than anywhere; nil while not learned.
func (m *model) heightRatios(p params) [][]float64 {
	if p.height == nil {
		return nil
	}
	out := make([][]float64, 2*len(m.bands))
	for b := range m.bands {
		for tap := range 2 {
			ratios := make([]float64, len(m.finds))
			for j, f := range m.finds {
				sum := 0.0
				for d, x := range f.Height {
					if m.variance[d] > 0 && finite(x) {
						sum += p.height[b][tap][d].logDensity(x) - gauss{m.mean[d], m.variance[d]}.logDensity(x)
					}
				}
				ratios[j] = math.Exp(max(-heightClip, min(heightClip, heightWeight*sum)))
			}
			out[2*b+tap] = ratios
		}
	}
	return out
}

// logDensity leaves out the constant.
func (g gauss) logDensity(x float64) float64 {
	d := x - g.mean
	return -0.5 * (d*d/g.variance + math.Log(g.variance))
}
