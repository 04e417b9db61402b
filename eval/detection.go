package eval

import (
	"cmp"
	"math"
	"slices"

	"strikerose/label"
)

// ToleranceMs is how far a found onset may lie from a true one to match it.
const ToleranceMs = 50

// detected is one true strike, or one false find, with its resampling session.
type detected struct {
	session          string
	timeNs           int64
	truth, found     float64 // 1 or 0
	matched          float64
	errorMs, delayMs float64 // NaN where not matched
}

// scoreDetection scores finds against complete truth; nil without sessions.
func scoreDetection(sessions []DetectionSession, o Options) *Detection {
	if len(sessions) == 0 {
		return nil
	}
	d := &Detection{Sessions: len(sessions), ToleranceMs: ToleranceMs}
	var events []detected
	for _, s := range sessions {
		events = append(events, detectedIn(s)...)
		d.Truth += len(s.TruthNs)
		d.Found += len(s.FoundNs)
	}
	names := make([]string, len(events))
	for i, e := range events {
		names[i] = e.session
		d.Matched += int(e.matched)
	}
	unit, units, kind := resamplingUnits(names)
	d.Unit, d.Units = kind, units
	r := newResampler(units, o.Resamples, stream(o.Seed, "detection"))

	share := func(counts func(detected) float64) Figure {
		c := column{share: true, values: make([]float64, len(events))}
		for i, e := range events {
			c.values[i] = e.matched
			if counts(e) == 0 {
				c.values[i] = math.NaN()
			}
		}
		return c.figure(unit, r, o.Level)
	}
	number := func(f func(detected) float64, kind measureKind, p float64) Figure {
		c := column{kind: kind, p: p, values: make([]float64, len(events))}
		for i, e := range events {
			c.values[i] = f(e)
		}
		return c.figure(unit, r, o.Level)
	}
	d.Precision = share(func(e detected) float64 { return e.found })
	d.Recall = share(func(e detected) float64 { return e.truth })
	d.F1 = f1Figure(events, unit, r, o.Level, d.Precision, d.Recall)
	d.OnsetErrorMs = number(func(e detected) float64 { return math.Abs(e.errorMs) }, meanOf, 0)
	d.OnsetBiasMs = number(func(e detected) float64 { return e.errorMs }, meanOf, 0)
	d.DelayMs = number(func(e detected) float64 { return e.delayMs }, meanOf, 0)
	d.DelayP95Ms = number(func(e detected) float64 { return e.delayMs }, quantileOf, 0.95)
	return d
}

// detectedIn lists a session's true strikes and false finds in order of time.
func detectedIn(s DetectionSession) []detected {
	of := make([]int, len(s.TruthNs))
	for i := range of {
		of[i] = -1
	}
	used := make([]bool, len(s.FoundNs))
	for _, pair := range label.MatchTimes(s.TruthNs, s.FoundNs, ToleranceMs*1e6) {
		of[pair[0]] = pair[1]
		used[pair[1]] = true
	}
	var out []detected
	for i, t := range s.TruthNs {
		e := detected{session: s.Session, timeNs: t, truth: 1, errorMs: math.NaN(), delayMs: math.NaN()}
		if f := of[i]; f >= 0 {
			e.found, e.matched = 1, 1
			e.errorMs = float64(s.FoundNs[f]-t) / 1e6
			e.delayMs = float64(s.ReadyNs[f]-s.FoundNs[f]) / 1e6
		}
		out = append(out, e)
	}
	for f, t := range s.FoundNs {
		if !used[f] {
			out = append(out, detected{session: s.Session, timeNs: t, found: 1, errorMs: math.NaN(), delayMs: math.NaN()})
		}
	}
	slices.SortStableFunc(out, func(a, b detected) int { return cmp.Compare(a.timeNs, b.timeNs) })
	return out
}

// f1Figure is 2 matched / (true + found) with its interval. Where nothing was
// missed and nothing false, or nothing matched, resamples do not differ: its
// ends are then those of the ends of precision and recall.
func f1Figure(events []detected, unit []int, r *resampler, level float64, precision, recall Figure) Figure {
	matched, both := make([]float64, r.units), make([]float64, r.units)
	for i, e := range events {
		matched[unit[i]] += e.matched
		both[unit[i]] += e.truth + e.found
	}
	f := NoFigure()
	if len(events) == 0 {
		return f
	}
	at := func(w []float64) float64 {
		var m, b float64
		for u, k := range w {
			m += k * matched[u]
			b += k * both[u]
		}
		if b == 0 {
			return math.NaN()
		}
		return 2 * m / b
	}
	f.N, f.Units, f.Value = len(events), r.units, at(ones(r.units))
	switch f.Value {
	case 1:
		f.Low, f.High, f.Method = harmonic(precision.Low, recall.Low), 1, MethodExact
		return f
	case 0:
		f.Low, f.High, f.Method = 0, harmonic(precision.High, recall.High), MethodExact
		return f
	}
	f.Low, f.High, f.Method = r.interval(at, level, true)
	return f
}

// harmonic is the harmonic mean of precision and recall; without a precision
// (nothing was found) or a recall (nothing was true) that one could be 1.
func harmonic(precision, recall float64) float64 {
	if math.IsNaN(precision) {
		precision = 1
	}
	if math.IsNaN(recall) {
		recall = 1
	}
	return 2 * precision * recall / (precision + recall)
}
