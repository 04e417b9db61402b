package label

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"strikerose/dataset/bearing"
)

// stance is what of a claim decides with whom it agrees.
type stance struct {
	denies bool
	words
	bearingDeg float64 // in [0, 360); 0 where it is not said
	heightM    float64 // 0 where it is not said
}

// words are what of a stance is compared as it stands.
type words struct {
	face         int
	band         string
	turned, high bool // whether bearing and height are said
}

func (c Claim) stance() stance {
	if c.denies() {
		return stance{denies: true}
	}
	s := stance{words: words{c.Face, c.Band, c.BearingDeg != nil, c.HeightM != nil}, heightM: deref(c.HeightM)}
	if s.turned {
		s.bearingDeg = bearing.Wrap360(*c.BearingDeg)
	}
	return s
}

func (s stance) agrees(o stance) bool {
	if s.denies || o.denies {
		return s.denies && o.denies
	}
	turned, high, can := s.compared(o.words)
	return can && (!turned || math.Abs(bearing.Diff(s.bearingDeg, o.bearingDeg)) <= agreeDeg) &&
		(!high || math.Abs(s.heightM-o.heightM) <= agreeM)
}

// compared tells whether bearings and heights decide, or whether the words let two
// agree at all.
func (w words) compared(o words) (turned, high, can bool) {
	turned, high = w.turned && o.turned, w.high && o.high
	can = (turned || w.face > 0 && w.face == o.face) && (high || w.band == "" || o.band == "" || w.band == o.band)
	return turned, high, can
}

// agreements counts for each claim about one strike the others by hand who agree
// with it, if it is by hand. Each hand takes one stance on a strike.
func agreements(claims []Claim) []int {
	out := make([]int, len(claims))
	var placed []placing
	denying := make(map[string]bool) // hands
	for i, c := range claims {
		s := c.stance()
		switch {
		case c.Source != Hand:
		case s.denies:
			denying[c.Author] = true
		default:
			placed = append(placed, placing{i, s.words, s.bearingDeg, s.heightM})
		}
	}
	said := parted(placed, func(p placing) [2]bool { return [2]bool{p.turned, p.high} })
	for w, some := range said {
		for o, others := range said {
			agreeingAmong(some, others, w[0] && o[0], w[1] && o[1], out)
		}
	}
	for i, c := range claims {
		if s := c.stance(); c.Source == Hand && s.denies {
			out[i] = len(denying) - 1
		} else if c.Source == Hand && s.agrees(s) {
			out[i]-- // with itself
		}
	}
	return out
}

// placing is where a claim, given by its position, puts a strike.
type placing struct {
	claim int
	words
	deg, m float64
}

func (p placing) faceNamed() int    { return p.face }
func (p placing) bandNamed() string { return p.band }

// parted parts placings, each part in their order.
func parted[K comparable](some []placing, by func(placing) K) map[K][]placing {
	out := make(map[K][]placing)
	for _, p := range some {
		out[by(p)] = append(out[by(p)], p)
	}
	return out
}

// agreeingAmong adds to the count of each claim that some place how many of the
// others agree with it: by bearing if turned, else by face, and by height if high,
// else by band. Each is looked at a few times only, however many faces and bands
// are named.
func agreeingAmong(some, others []placing, turned, high bool, count []int) {
	faces := parted(flat(others, turned, high), placing.faceNamed)
	for face, some := range parted(flat(some, turned, high), placing.faceNamed) {
		if !turned && face == 0 {
			continue // no place
		}
		bands := parted(faces[face], placing.bandNamed)
		near(some, bands[""], count)
		for band, same := range parted(some, placing.bandNamed) {
			if band != "" {
				near(same, bands[band], count)
				continue
			}
			near(same, slices.DeleteFunc(faces[face], func(o placing) bool { return o.band == "" }), count)
		}
	}
}

// flat sorts placings by height and leaves out of them what does not decide.
func flat(some []placing, turned, high bool) []placing {
	out := slices.Clone(some)
	for i := range out {
		if turned {
			out[i].face = 0
		} else {
			out[i].deg = 0
		}
		if high {
			out[i].band = ""
		} else {
			out[i].m = 0
		}
	}
	slices.SortFunc(out, func(a, b placing) int { return cmp.Compare(a.m, b.m) })
	return out
}

// near adds to the count of each claim that some place how many of the others lie
// within agreeDeg and agreeM of it. Both are in order of height, so that those near
// in height come and go one by one; they are counted by bearing in a tree of sums
// (Fenwick 1994, Software: Practice and Experience 24:327-336).
func near(some, others []placing, count []int) {
	degs := make([]float64, len(others))
	for i, o := range others {
		degs[i] = o.deg
	}
	slices.Sort(degs)
	sums := make([]int, len(degs)+1)
	add := func(o placing, n int) {
		i, _ := slices.BinarySearch(degs, o.deg)
		for i++; i < len(sums); i += i & -i {
			sums[i] += n
		}
	}
	from, to := 0, 0 // of the others, near in height
	for _, s := range some {
		for ; to < len(others) && others[to].m-s.m <= agreeM; to++ {
			add(others[to], 1)
		}
		for ; from < to && s.m-others[from].m > agreeM; from++ {
			add(others[from], -1)
		}
		below := func(turn float64, included bool) (n int) { // how many lie before that turn from s
			i := sort.Search(len(degs), func(i int) bool { d := degs[i] - s.deg; return d > turn || !included && d == turn })
			for ; i > 0; i -= i & -i {
				n += sums[i]
			}
			return n
		}
		count[s.claim] += below(agreeDeg, true) - below(-agreeDeg, false) + // beside it, and across 0
			below(360, true) - below(360-agreeDeg, false) + below(agreeDeg-360, true)
	}
}
