package doubt_test

import (
	"cmp"
	"math/rand/v2"
	"slices"

	"strikerose/eval/doubt"
	"strikerose/label"
)

// faulty is a copy of labels with faults put in, and where they are.
type faulty struct {
	claims map[string][]label.Claim
	wrong  map[string]map[int64]doubt.Kind // single wrong labels, by session and onset

	mirrored string // session
	slipped  string // session
	from, to int64  // onsets of the first and the last label that the slip changed
}

// faults says which faults are put in.
type faults struct {
	mirror, slip int     // position of the session; -1 for none
	length, by   int     // of the slip
	share        float64 // of labels with another face
	flips        int     // labels with the opposite face
	seed         uint64
}

// spoil puts faults into the labels of a shelf.
func spoil(s *shelf, f faults) faulty {
	rng := rand.New(rand.NewPCG(f.seed, 7))
	out := faulty{claims: map[string][]label.Claim{}, wrong: map[string]map[int64]doubt.Kind{}}
	type place struct {
		session string
		i       int
	}
	var free []place
	for k, session := range s.sessions {
		claims := slices.Clone(s.claims[session.Name])
		slices.SortFunc(claims, func(a, b label.Claim) int { return cmp.Compare(a.OnsetNs, b.OnsetNs) })
		out.claims[session.Name] = claims
		out.wrong[session.Name] = map[int64]doubt.Kind{}
		from, to := 0, 0
		if k == f.slip {
			out.slipped = session.Name
			from = len(claims) / 3
			to = from + f.length
			out.slip(claims, from, to, f.by)
		}
		for i := range claims {
			if k != f.slip || i < from || i >= to {
				free = append(free, place{session.Name, i})
			}
		}
	}
	faces := func(session string) int {
		for _, x := range s.sessions {
			if x.Name == session {
				return s.rigs[x.Rig].Faces
			}
		}
		return 0
	}
	change := func(p place, step int, kind doubt.Kind) {
		c := &out.claims[p.session][p.i]
		c.Face = (c.Face-1+step)%faces(p.session) + 1
		c.ID = c.ContentID()
		out.wrong[p.session][c.OnsetNs] = kind
	}
	rng.Shuffle(len(free), func(i, j int) { free[i], free[j] = free[j], free[i] })
	random := int(f.share*float64(len(free)) + 0.5)
	for k, p := range free[:random+f.flips] {
		n := faces(p.session)
		if k < f.flips {
			change(p, n/2, doubt.Opposite)
		} else {
			change(p, 1+rng.IntN(n-1), doubt.WrongFace)
		}
	}
	if f.mirror >= 0 {
		session := s.sessions[f.mirror]
		out.mirrored = session.Name
		n := s.rigs[session.Rig].Faces
		for i := range out.claims[session.Name] {
			c := &out.claims[session.Name][i]
			c.Face = (n-(c.Face-1))%n + 1
			c.ID = c.ContentID()
		}
	}
	return out
}

// slip gives labels from to to the place of the labels by later.
func (out *faulty) slip(claims []label.Claim, from, to, by int) {
	before := slices.Clone(claims)
	for i := from; i < to; i++ {
		c, of := &claims[i], before[i+by]
		c.Face, c.Band, c.Kind, c.Pair = of.Face, of.Band, of.Kind, of.Pair
		c.ID = c.ContentID()
		if c.Face != before[i].Face || c.Band != before[i].Band {
			if out.from == 0 {
				out.from = c.OnsetNs
			}
			out.to = c.OnsetNs
		}
	}
}

// precision is the average precision of scores for finding single wrong
// labels, labels of the slip apart: the mean, over the wrong ones, of the share
// of wrong labels among those scored at least as high.
func (out *faulty) precision(r *doubt.Report) float64 {
	type scored struct {
		score float64
		wrong bool
	}
	var all []scored
	for _, j := range r.Judged {
		if j.Session == out.slipped && j.OnsetNs >= out.from-1e7 && j.OnsetNs <= out.to+1e7 {
			continue
		}
		_, wrong := out.wrong[j.Session][j.OnsetNs]
		all = append(all, scored{j.Score, wrong})
	}
	slices.SortStableFunc(all, func(a, b scored) int {
		if a.score == b.score && a.wrong != b.wrong { // ties count against
			if b.wrong {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.score, a.score)
	})
	hits, sum := 0, 0.0
	for i, s := range all {
		if s.wrong {
			hits++
			sum += float64(hits) / float64(i+1)
		}
	}
	return sum / float64(max(hits, 1))
}

// of returns the doubts of a kind.
func of(r *doubt.Report, kind doubt.Kind) []doubt.Doubt {
	var out []doubt.Doubt
	for _, d := range r.Doubts {
		if d.Kind == kind {
			out = append(out, d)
		}
	}
	return out
}

// alarms counts labels scored above one half, and doubts of other kinds above it.
func alarms(r *doubt.Report) (labels, others int) {
	for _, j := range r.Judged {
		if j.Score > 0.5 {
			labels++
		}
	}
	for _, d := range r.Doubts {
		switch d.Kind {
		case doubt.Opposite, doubt.WrongFace, doubt.WrongBand, doubt.WrongBoth, doubt.Swapped:
		default:
			if d.Score > 0.5 {
				others++
			}
		}
	}
	return labels, others
}

// foundMirror tells whether just the mirrored session was found, exactly.
func foundMirror(r *doubt.Report, f faulty) bool {
	m := of(r, doubt.Mirrored)
	return len(m) == 1 && m[0].Session == f.mirrored && m[0].Sense == -1 && m[0].TurnDeg == 0 && len(of(r, doubt.Rotated)) == 0
}

// foundSlip tells whether just the slip was found, from its first wrong label
// to its last.
func foundSlip(r *doubt.Report, f faulty) bool {
	s := of(r, doubt.Slip)
	return len(s) == 1 && s[0].Session == f.slipped && s[0].By == 1 && s[0].OnsetNs == f.from && s[0].EndNs == f.to
}
