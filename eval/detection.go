package eval

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// ToleranceMs is how far a found onset may lie from a true one to match it.
const ToleranceMs = 50

// Match is a true onset and the found one that belongs to it, by position.
type Match struct{ Truth, Found int }

// MatchOnsets matches true and found onsets one to one within a tolerance: as
// many as possible, and among those the matching with the least sum of
// distances. Both may be in any order; the result is in order of time.
func MatchOnsets(truthNs, foundNs []int64, toleranceNs int64) []Match {
	truth, found := byTime(truthNs), byTime(foundNs)
	var out []Match
	i, j := 0, 0
	for i < len(truth) && j < len(found) {
		// A cluster is a run of onsets none of which can match one outside it.
		i0, j0 := i, j
		last := min(truthNs[truth[i]], foundNs[found[j]])
		for {
			switch {
			case i < len(truth) && truthNs[truth[i]]-last <= toleranceNs && (j >= len(found) || truthNs[truth[i]] <= foundNs[found[j]]):
				last = truthNs[truth[i]]
				i++
				continue
			case j < len(found) && foundNs[found[j]]-last <= toleranceNs:
				last = foundNs[found[j]]
				j++
				continue
			}
			break
		}
		for _, m := range matchCluster(truthNs, foundNs, truth[i0:i], found[j0:j], toleranceNs) {
			out = append(out, m)
		}
	}
	return out
}

// byTime returns positions in order of time.
func byTime(ns []int64) []int {
	order := make([]int, len(ns))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return ns[order[a]] < ns[order[b]] })
	return order
}

// matchCluster finds the best matching of two short lists in order of time. On
// a line a best matching never crosses, so it is an alignment.
func matchCluster(truthNs, foundNs []int64, truth, found []int, toleranceNs int64) []Match {
	type cell struct {
		pairs int
		cost  int64
	}
	better := func(a, b cell) bool { return a.pairs > b.pairs || a.pairs == b.pairs && a.cost < b.cost }
	table := make([][]cell, len(truth)+1)
	for i := range table {
		table[i] = make([]cell, len(found)+1)
	}
	paired := func(i, j int) (cell, bool) {
		gap := truthNs[truth[i-1]] - foundNs[found[j-1]]
		gap = max(gap, -gap)
		return cell{table[i-1][j-1].pairs + 1, table[i-1][j-1].cost + gap}, gap <= toleranceNs
	}
	for i := 1; i <= len(truth); i++ {
		for j := 1; j <= len(found); j++ {
			best := table[i-1][j]
			if better(table[i][j-1], best) {
				best = table[i][j-1]
			}
			if c, ok := paired(i, j); ok && better(c, best) {
				best = c
			}
			table[i][j] = best
		}
	}
	var out []Match
	for i, j := len(truth), len(found); i > 0 && j > 0; {
		switch table[i][j] {
		case table[i-1][j]:
			i--
		case table[i][j-1]:
			j--
		default:
			out = append(out, Match{truth[i-1], found[j-1]})
			i, j = i-1, j-1
		}
	}
	slices.Reverse(out)
	return out
}

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
	for _, m := range MatchOnsets(s.TruthNs, s.FoundNs, ToleranceMs*1e6) {
		of[m.Truth] = m.Found
		used[m.Found] = true
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
// missed and nothing false, its low end is that of the low ends of precision
// and recall.
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
	if f.Value == 1 {
		f.Low, f.High, f.Method = 2*precision.Low*recall.Low/(precision.Low+recall.Low), 1, MethodExact
		return f
	}
	f.Low, f.High, f.Method = r.interval(at, level, true)
	return f
}
