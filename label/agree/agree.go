// Package agree measures how far those who label the same strikes agree:
// people, a plan, timed truth. It knows claims and plain numbers, no files.
//
// Alpha compares any number of labellers on one scale and bears gaps. Kappa
// compares two on named classes, Fleiss' kappa more than two that all named
// every strike. For heights there are the bias and the limits of agreement of
// Bland and Altman, for bearings the circular mean difference and its spread.
// Intervals come from resampling strikes, or from the normal theory where a
// measure has one.
//
// Agreement is not truth: labellers who share a mistake agree.
package agree

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// Session is what is claimed about one session.
type Session struct {
	Name    string
	Rig     *rig.Rig
	Claims  []label.Claim    // in any order; superseded ones do not count
	Strikes []dataset.Strike // found; none where find has not run
}

// Ratings are what each labeller says of each strike, by labeller and strike;
// NaN where a labeller does not say.
type Ratings struct {
	Labellers []string // the most trusted source first: timed, hand:NAME, plan
	Strikes   int      // found or claimed
	Shared    int      // of those, that two labellers or more speak of
	Sessions  int      // with two labellers or more
	Faces     int
	Bands     []string // from the bottom

	Struck     [][]float64 // 1 a strike, 0 none
	Face       [][]float64
	Band       [][]float64 // position in Bands
	Kind       [][]float64 // position in label.Kinds
	BearingDeg [][]float64
	HeightM    [][]float64

	UnknownFaces int // claims whose face their rig does not have: their face counts as not said
	UnknownBands int // likewise of bands
}

// Collect lays the claims of sessions side by side. A session has one plan and
// one timed truth, whoever brought them; people are told apart by name. Each
// labeller's claims are matched one to one within the tolerance with the
// strikes found, as label.Resolve does it, and what was not found with what
// the labellers before claimed. A statement that is complete says of strikes
// which it does not list that they were none.
//
// What a claim leaves out is worked out from the rest as label.Claim.PlaceOn
// does: the bearing of a bare face is its middle, and so on. Sessions on rigs
// with other faces or bands are refused.
func Collect(sessions []Session, toleranceNs int64) (*Ratings, error) {
	r := &Ratings{}
	for i, s := range sessions {
		if i == 0 {
			r.Faces, r.Bands = s.Rig.Faces, bandNames(s.Rig)
		} else if s.Rig.Faces != r.Faces || !slices.Equal(bandNames(s.Rig), r.Bands) {
			return nil, fmt.Errorf("agree: session %s on rig %s has other faces or bands than session %s on rig %s: choose sessions of one rig",
				s.Name, s.Rig.Key(), sessions[0].Name, sessions[0].Rig.Key())
		}
		for _, c := range label.Standing(s.Claims) {
			r.Labellers = append(r.Labellers, labeller(c))
		}
	}
	slices.SortFunc(r.Labellers, func(a, b string) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a, b))
	})
	r.Labellers = slices.Compact(r.Labellers)
	for _, table := range r.tables() {
		*table = make([][]float64, len(r.Labellers))
	}
	for _, s := range sessions {
		r.add(s, toleranceNs)
	}
	return r, nil
}

// labeller names who makes a claim.
func labeller(c label.Claim) string {
	if c.Source == label.Hand {
		return label.Hand + ":" + c.Author
	}
	return c.Source
}

// rank orders labellers by the trust in their source.
func rank(labeller string) int {
	switch labeller {
	case label.Timed:
		return 0
	case label.Plan:
		return 2
	}
	return 1
}

func (r *Ratings) tables() []*[][]float64 {
	return []*[][]float64{&r.Struck, &r.Face, &r.Band, &r.Kind, &r.BearingDeg, &r.HeightM}
}

// add appends the strikes of a session.
func (r *Ratings) add(s Session, toleranceNs int64) {
	times := make([]int64, len(s.Strikes))
	for i, f := range s.Strikes {
		times[i] = f.OnsetNs
	}
	about := make(map[string][]label.Claim)    // by labeller
	complete := make(map[string][]label.Claim) // likewise
	for _, c := range label.Standing(s.Claims) {
		if name := labeller(c); c.Complete {
			complete[name] = append(complete[name], c)
		} else {
			about[name] = append(about[name], c)
		}
	}
	said := make([]map[int]label.Claim, len(r.Labellers)) // by position in times
	present := 0
	for k, name := range r.Labellers {
		said[k] = map[int]label.Claim{}
		own := about[name]
		if len(own)+len(complete[name]) > 0 {
			present++
		}
		onsets := make([]int64, len(own))
		for i, c := range own {
			onsets[i] = c.OnsetNs
		}
		matched := make([]bool, len(own))
		for _, pair := range label.MatchTimes(onsets, times, toleranceNs) {
			said[k][pair[1]], matched[pair[0]] = own[pair[0]], true
		}
		for i, c := range own {
			if !matched[i] {
				said[k][len(times)] = c
				times = append(times, c.OnsetNs)
			}
		}
	}
	if present >= 2 {
		r.Sessions++
	}
	speak := make([]int, len(times))
	for k, name := range r.Labellers {
		for i, ns := range times {
			c, ok := said[k][i]
			if !ok && slices.ContainsFunc(complete[name], func(c label.Claim) bool { return c.Covers(ns) }) {
				c, ok = label.Claim{NotStrike: true}, true
			}
			if ok {
				speak[i]++
			}
			r.rate(k, c, ok, s.Rig)
		}
	}
	for _, n := range speak {
		if n >= 2 {
			r.Shared++
		}
	}
	r.Strikes += len(times)
}

// rate appends what labeller k says of a strike, if anything.
func (r *Ratings) rate(k int, c label.Claim, ok bool, rg *rig.Rig) {
	nan := math.NaN()
	struck, face, band, kind, bearingDeg, heightM := nan, nan, nan, nan, nan, nan
	switch {
	case !ok:
	case c.NotStrike:
		struck = 0
	default:
		struck = 1
		p := c.PlaceOn(rg)
		if p.Face > r.Faces {
			r.UnknownFaces++
		} else if p.Face > 0 {
			face = float64(p.Face)
		}
		if i := slices.Index(r.Bands, p.Band); i >= 0 {
			band = float64(i)
		} else if p.Band != "" {
			r.UnknownBands++
		}
		if i := slices.Index(label.Kinds(), c.Kind); i >= 0 {
			kind = float64(i)
		}
		bearingDeg, heightM = p.BearingDeg, p.HeightM
	}
	for i, v := range []float64{struck, face, band, kind, bearingDeg, heightM} {
		table := *r.tables()[i]
		table[k] = append(table[k], v)
	}
}

func bandNames(r *rig.Rig) []string {
	names := make([]string, len(r.Bands))
	for i, b := range r.Bands {
		names[i] = b.Name
	}
	return names
}
