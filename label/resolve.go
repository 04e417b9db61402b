package label

import (
	"cmp"
	"slices"

	"strikerose/dataset"
)

// Label is what is claimed about one found strike.
type Label struct {
	Strike    int     // position in the strikes given to Resolve; -1 where none was found
	Claim     *Claim  // the preferred claim, which may be a Complete statement; nil where there is none
	Rivals    []Claim // the other standing claims about the strike, by falling preference
	NotStrike bool    // by the preferred claim, or because a complete truth does not list the strike
}

// sources lists the sources that count under a preference, the most trusted
// first; nil for an unknown preference.
func sources(prefer string) []string {
	switch prefer {
	case Best:
		return []string{Timed, Hand, Plan}
	case Timed, Hand, Plan:
		return []string{prefer}
	}
	return nil
}

// Resolve matches claims with found strikes, one to one within the tolerance
// for each source and author. Claims that are superseded do not count. prefer
// is timed, hand or plan, where only claims of that source count, or best,
// where timed goes before hand before plan. Among hands, what more of them
// agree on goes first (see Agrees), then, as among the claims of any one
// source, the latest, then the first by author. What does not stand first is
// kept as a rival. Label.Why says which of these rules decided.
//
// labels has one element a strike, in the strikes' order. orphans are the
// claims of the chosen sources that say that something was a strike where
// none was found, in order of onset: strikes that were missed, or labels that
// a new search has left behind. Missed tells rivals among them. An unknown
// preference counts no source.
func Resolve(claims []Claim, strikes []dataset.Strike, prefer string, toleranceNs int64) (labels []Label, orphans []Claim) {
	labels = make([]Label, len(strikes))
	times := make([]int64, len(strikes))
	for i, s := range strikes {
		labels[i].Strike, times[i] = i, s.OnsetNs
	}
	found := make([][]Claim, len(strikes)) // by falling preference of the source
	standing := Standing(claims)
	for _, source := range sources(prefer) {
		of := make([][]Claim, len(strikes)) // claims of this source
		for _, said := range byAuthor(standing, source) {
			var about, complete []Claim
			for _, c := range said {
				if c.Complete {
					complete = append(complete, c)
				} else {
					about = append(about, c)
				}
			}
			listed := make([]bool, len(about))
			taken := make([]bool, len(strikes))
			for _, pair := range MatchTimes(onsets(about), times, toleranceNs) {
				listed[pair[0]], taken[pair[1]] = true, true
				of[pair[1]] = append(of[pair[1]], about[pair[0]])
			}
			for i, c := range about {
				if !listed[i] && !c.NotStrike {
					orphans = append(orphans, c)
				}
			}
			for i := range strikes {
				for _, c := range complete {
					if !taken[i] && c.Covers(times[i]) {
						of[i] = append(of[i], c)
					}
				}
			}
		}
		for i := range strikes {
			rank(of[i])
			found[i] = append(found[i], of[i]...)
		}
	}
	for i, list := range found {
		if len(list) > 0 {
			labels[i].Claim = &list[0]
			labels[i].Rivals = list[1:]
			labels[i].NotStrike = list[0].denies()
		}
	}
	slices.SortStableFunc(orphans, func(a, b Claim) int { return cmp.Compare(a.OnsetNs, b.OnsetNs) })
	return labels, orphans
}

// Covers tells whether a Complete statement speaks of a moment.
func (c Claim) Covers(ns int64) bool {
	return ns >= c.OnsetNs && (c.EndNs == 0 || ns <= c.EndNs)
}

// Missed lays the orphans of Resolve side by side: those within the tolerance
// of each other, by different sources or authors, are rivals about one missed
// strike. Labels come in order of time; their Strike is -1.
func Missed(orphans []Claim, toleranceNs int64) []Label {
	var groups [][]Claim
	var spoke map[maker]bool // in the last of them
	for _, c := range orphans {
		last := len(groups) - 1
		if last < 0 || c.OnsetNs-groups[last][0].OnsetNs > toleranceNs || spoke[c.maker()] {
			groups, spoke = append(groups, nil), make(map[maker]bool)
			last++
		}
		groups[last] = append(groups[last], c)
		spoke[c.maker()] = true
	}
	var out []Label
	for _, group := range groups {
		var list []Claim
		for _, source := range sources(Best) {
			var of []Claim
			for _, c := range group {
				if c.Source == source {
					of = append(of, c)
				}
			}
			rank(of)
			list = append(list, of...)
		}
		out = append(out, Label{Strike: -1, Claim: &list[0], Rivals: list[1:]})
	}
	return out
}

// rank orders claims of one source about one strike, the preferred first: what
// more hands agree on, what names the strike before what denies it by leaving
// it out, the latest, the first by author.
func rank(claims []Claim) {
	if len(claims) < 2 {
		return
	}
	type ranked struct {
		Claim
		hands int // others that agree
	}
	list := make([]ranked, len(claims))
	for i, hands := range agreements(claims) {
		list[i] = ranked{claims[i], hands}
	}
	slices.SortStableFunc(list, func(a, b ranked) int {
		switch {
		case a.hands != b.hands:
			return cmp.Compare(b.hands, a.hands)
		case a.Complete != b.Complete && b.Complete:
			return -1
		case a.Complete != b.Complete:
			return 1
		}
		return cmp.Or(b.At.Compare(a.At), cmp.Compare(a.Author, b.Author), cmp.Compare(a.OnsetNs, b.OnsetNs))
	})
	for i, r := range list {
		claims[i] = r.Claim
	}
}

// byAuthor parts the claims of a source by who made them, in alphabetical order.
func byAuthor(claims []Claim, source string) [][]Claim {
	var of []Claim
	for _, c := range claims {
		if c.Source == source {
			of = append(of, c)
		}
	}
	slices.SortStableFunc(of, func(a, b Claim) int { return cmp.Compare(a.Author, b.Author) })
	var out [][]Claim
	for i, c := range of {
		if i == 0 || c.Author != of[i-1].Author {
			out = append(out, nil)
		}
		last := len(out) - 1
		out[last] = append(out[last], c)
	}
	return out
}
