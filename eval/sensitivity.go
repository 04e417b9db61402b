package eval

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"strikerose/features"
)

// Sensitivity is what the errors of the best detectors on one rig depend on.
type Sensitivity struct {
	Rig     string   `json:"rig"`     // name of the rig; empty where it is the only one
	Bearing string   `json:"bearing"` // name of the detector that errs least in bearing
	Height  string   `json:"height"`  // name of the detector that errs least in height; empty for none
	Factors []Factor `json:"factors"` // what was looked at
}

// Factor is one thing in which strikes differ.
type Factor struct {
	// Name is in what the strikes differ: one of FactorKind, FactorForce, FactorBand,
	// FactorSwing, FactorSecondHit, FactorClipping or FactorNoise.
	Name    string  `json:"name"`
	Levels  []Level `json:"levels"`  // strikes that are alike in it, level by level
	Bearing Effect  `json:"bearing"` // whether the bearing errors differ between levels
	Height  Effect  `json:"height"`  // whether the height errors differ between levels
}

// Level is the strikes that are alike in a factor, with their mean errors.
type Level struct {
	Name    string `json:"name"`            // what the strikes have in common, in words
	Strikes int    `json:"strikes"`         // how many there are, at least 0
	Bearing Figure `json:"bearing_mae_deg"` // mean size of the bearing error, degrees
	Height  Figure `json:"height_mae_m"`    // mean size of the height error, metres
}

// Effect tells whether the mean errors of a factor's levels differ by more than
// chance.
type Effect struct {
	P       float64 `json:"p"`       // p value of a permutation test, in [0, 1]; 1 where there is nothing to test
	PHolm   float64 `json:"p_holm"`  // the same corrected for the number of factors of the rig, in [0, 1]
	Matters bool    `json:"matters"` // whether that tells the levels apart at the comparison's level
}

// Names of the factors.
const (
	FactorKind      = "kind"
	FactorForce     = "force"
	FactorBand      = "band"
	FactorSwing     = "earlier swing"
	FactorSecondHit = "second hit"
	FactorClipping  = "clipping"
	FactorNoise     = "session's noise"
)

const (
	// secondHitS is how soon after another strike one counts as the second of a
	// double hit. Common practice, no source.
	secondHitS = 0.5

	// factorArrangements is how many arrangements a permutation test draws.
	factorArrangements = 1999
)

// factor sorts strikes into levels.
type factor struct {
	name string
	// of is the level of each strike of a list, -1 for none, and their names.
	of func(c *Comparison, strikes []int) (level []int, names []string)
	// whole: a level belongs to a whole session, so that sessions are permuted,
	// not strikes.
	whole bool
}

func factors() []factor {
	return []factor{
		{name: FactorKind, of: func(c *Comparison, strikes []int) ([]int, []string) {
			return named(c, strikes, c.kinds(strikes), func(s StrikeDoc) string { return s.Truth.Kind })
		}},
		{name: FactorForce, of: thirds(func(s StrikeDoc) float64 { return s.PeakMPS2 })},
		{name: FactorBand, of: func(c *Comparison, strikes []int) ([]int, []string) {
			return named(c, strikes, c.bands(strikes), func(s StrikeDoc) string { return s.Truth.Band })
		}},
		{name: FactorSwing, of: thirds(func(s StrikeDoc) float64 { return s.SwingMPS2 })},
		{name: FactorSecondHit, of: split("single or first", "second, within 0.5 s", func(s StrikeDoc) (second, known bool) { return s.SinceS <= secondHitS, s.SinceS > 0 })},
		{name: FactorClipping, of: split("not clipped", "clipped", func(s StrikeDoc) (clipped, known bool) { return s.Clipped, true })},
		{name: FactorNoise, whole: true, of: quietAndNoisy},
	}
}

// addSensitivity fills in what the errors on each rig depend on.
func (c *Comparison) addSensitivity(o Options) {
	groups := c.groups()
	several := slices.ContainsFunc(groups, func(m members) bool { return m.Rig != "" })
	for k, m := range groups {
		if m.Band != "" || m.Kind != "" || several && m.Rig == "" {
			continue
		}
		if s, ok := c.sensitivity(m, c.Groups[k], o); ok {
			c.Sensitivity = append(c.Sensitivity, s)
		}
	}
}

// leastBy is the position, in Detectors, of a group's detector with the least
// value of a measure; -1 for none.
func (c *Comparison) leastBy(g Group, measure string) int {
	best, least := -1, math.Inf(1)
	for _, r := range g.Rows {
		if f := r.Figure(measure); f.Known() && f.Value < least {
			best, least = slices.IndexFunc(c.Detectors, func(d DetectorDoc) bool { return d.Name == r.Detector }), f.Value
		}
	}
	return best
}

func (c *Comparison) sensitivity(m members, g Group, o Options) (Sensitivity, bool) {
	out := Sensitivity{Rig: m.Rig}
	bearing, height := c.leastBy(g, BearingMAE), c.leastBy(g, HeightMAE)
	if bearing < 0 {
		return out, false
	}
	out.Bearing = c.Detectors[bearing].Name
	if height >= 0 {
		out.Height = c.Detectors[height].Name
	}
	var pBearing, pHeight []float64
	for _, f := range factors() {
		level, names := f.of(c, m.strikes)
		if len(names) < 2 {
			continue
		}
		one := Factor{Name: f.name}
		for l, name := range names {
			part := m
			part.strikes = nil
			for k, i := range m.strikes {
				if level[k] == l {
					part.strikes = append(part.strikes, i)
				}
			}
			one.Levels = append(one.Levels, Level{Name: name, Strikes: len(part.strikes),
				Bearing: c.meanOn(part, bearing, BearingMAE, f.name+name, o), Height: c.meanOn(part, height, HeightMAE, f.name+name, o)})
		}
		one.Bearing.P = c.permutation(m, level, len(names), f, bearing, BearingMAE, o)
		one.Height.P = c.permutation(m, level, len(names), f, height, HeightMAE, o)
		out.Factors = append(out.Factors, one)
		pBearing, pHeight = append(pBearing, one.Bearing.P), append(pHeight, one.Height.P)
	}
	holmBearing, holmHeight := Holm(pBearing), Holm(pHeight)
	for k := range out.Factors {
		b, h := &out.Factors[k].Bearing, &out.Factors[k].Height
		b.PHolm, h.PHolm = holmBearing[k], holmHeight[k]
		b.Matters, h.Matters = b.PHolm < 1-o.Level, h.PHolm < 1-o.Level
	}
	return out, len(out.Factors) > 0
}

// meanOn is a mean error of a detector on some strikes of a rig.
func (c *Comparison) meanOn(part members, detector int, measure, name string, o Options) Figure {
	if detector < 0 || len(part.strikes) == 0 {
		return NoFigure()
	}
	unit, units, _ := c.units(part)
	m, _ := MeasureByName(measure)
	return m.column(c.scoresOn(part.strikes, detector)).figure(unit, newResampler(units, o.Resamples, stream(o.Seed, "sensitivity "+part.Rig+name)), o.Level)
}

func (c *Comparison) scoresOn(strikes []int, detector int) []Score {
	out := make([]Score, len(strikes))
	for k, i := range strikes {
		out[k] = c.Scores[detector][i]
	}
	return out
}

// permutation tests whether levels differ in a mean error: the variance of the
// levels' means about that of all, against what it is when levels are dealt anew
// among the strikes of each session, or among sessions (Pitman 1937, Supplement
// to the Journal of the Royal Statistical Society 4:119-130).
func (c *Comparison) permutation(m members, level []int, levels int, f factor, detector int, measure string, o Options) float64 {
	if detector < 0 {
		return 1
	}
	about, _ := MeasureByName(measure)
	var errors []float64
	var own []int
	bySession := map[string][]int{} // positions in errors
	for k, s := range c.scoresOn(m.strikes, detector) {
		if v := about.value(s); !math.IsNaN(v) && level[k] >= 0 {
			session := c.Strikes[m.strikes[k]].Session
			bySession[session] = append(bySession[session], len(errors))
			errors, own = append(errors, v), append(own, level[k])
		}
	}
	var sessions [][]int
	for _, name := range sortedKeys(bySession) {
		sessions = append(sessions, bySession[name])
	}
	rng := stream(o.Seed, "factor "+m.Rig+f.name+measure)
	deal := dealStrikes
	if f.whole {
		deal = dealSessions
	}
	seen := between(errors, own, levels)
	hits := 1
	for range factorArrangements {
		deal(own, sessions, rng)
		if between(errors, own, levels) >= seen*(1-1e-9) {
			hits++
		}
	}
	return float64(hits) / (factorArrangements + 1)
}

// between is the sum of squares between levels: of the distance of each level's
// mean from that of all, by number.
func between(errors []float64, level []int, levels int) float64 {
	sum, n := make([]float64, levels), make([]float64, levels)
	var total float64
	for i, e := range errors {
		sum[level[i]] += e
		n[level[i]]++
		total += e
	}
	mean := total / float64(len(errors))
	var out float64
	for l := range sum {
		if n[l] > 0 {
			d := sum[l]/n[l] - mean
			out += n[l] * d * d
		}
	}
	return out
}

// dealStrikes deals the levels of each session anew among its strikes.
func dealStrikes(level []int, sessions [][]int, rng *rand.Rand) {
	for _, own := range sessions {
		rng.Shuffle(len(own), func(a, b int) { level[own[a]], level[own[b]] = level[own[b]], level[own[a]] })
	}
}

// dealSessions deals the levels anew among sessions, each of which has one.
func dealSessions(level []int, sessions [][]int, rng *rand.Rand) {
	dealt := make([]int, len(sessions))
	for s, own := range sessions {
		dealt[s] = level[own[0]]
	}
	rng.Shuffle(len(dealt), func(a, b int) { dealt[a], dealt[b] = dealt[b], dealt[a] })
	for s, own := range sessions {
		for _, i := range own {
			level[i] = dealt[s]
		}
	}
}

// named sorts strikes by a name of theirs; those without are in no level.
func named(c *Comparison, strikes []int, names []string, of func(StrikeDoc) string) ([]int, []string) {
	level := make([]int, len(strikes))
	for k, i := range strikes {
		level[k] = slices.Index(names, of(c.Strikes[i]))
	}
	return level, names
}

// split sorts strikes in two.
func split(no, yes string, of func(StrikeDoc) (is, known bool)) func(*Comparison, []int) ([]int, []string) {
	return func(c *Comparison, strikes []int) ([]int, []string) {
		level := make([]int, len(strikes))
		var count [2]int
		for k, i := range strikes {
			is, known := of(c.Strikes[i])
			switch {
			case !known:
				level[k] = -1
				continue
			case is:
				level[k] = 1
			}
			count[level[k]]++
		}
		if count[0] == 0 || count[1] == 0 {
			return level, nil
		}
		return level, []string{no, yes}
	}
}

// thirds sorts strikes into three equal parts by a number in m/s2.
func thirds(of func(StrikeDoc) float64) func(*Comparison, []int) ([]int, []string) {
	return func(c *Comparison, strikes []int) ([]int, []string) {
		var known []float64
		for _, i := range strikes {
			if v := of(c.Strikes[i]); !math.IsNaN(v) && !math.IsInf(v, 0) {
				known = append(known, v)
			}
		}
		slices.Sort(known)
		if len(known) < 3 || known[0] == known[len(known)-1] {
			return make([]int, len(strikes)), nil
		}
		low, high := quantileOfSorted(known, 1./3), quantileOfSorted(known, 2./3)
		level := make([]int, len(strikes))
		for k, i := range strikes {
			switch v := of(c.Strikes[i]); {
			case math.IsNaN(v) || math.IsInf(v, 0):
				level[k] = -1
			case v > high:
				level[k] = 2
			case v > low:
				level[k] = 1
			}
		}
		return level, []string{fmt.Sprintf("up to %.3g m/s²", low), fmt.Sprintf("to %.3g m/s²", high), "above"}
	}
}

// quietAndNoisy sorts the strikes of the quieter half of the sessions from those
// of the others.
func quietAndNoisy(c *Comparison, strikes []int) ([]int, []string) {
	noise := map[string]float64{}
	for _, s := range c.Sessions {
		noise[s.Session] = s.NoiseMPS2
	}
	of := map[string]float64{}
	for _, i := range strikes {
		session := c.Strikes[i].Session
		of[session] = noise[session]
	}
	var sorted []float64
	for _, name := range sortedKeys(of) {
		sorted = append(sorted, of[name])
	}
	slices.Sort(sorted)
	if len(sorted) < 2 || !(sorted[0] > 0) || sorted[0] == sorted[len(sorted)-1] {
		return make([]int, len(strikes)), nil
	}
	middle := sorted[(len(sorted)-1)/2]
	return split(fmt.Sprintf("up to %.3g m/s²", middle), "above", func(s StrikeDoc) (is, known bool) { return of[s.Session] > middle, true })(c, strikes)
}

// swingBefore is how much the bag swung before a strike, m/s2; NaN where it is
// not known, as in a row that is not whole.
func swingBefore(row features.Row) float64 {
	if len(row) < len(features.Columns()) {
		return math.NaN()
	}
	return row.Scalar("swing_before")
}
