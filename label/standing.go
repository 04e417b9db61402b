package label

import (
	"cmp"
	"slices"
	"time"
)

// maxSuperseded is how many claims one retraction takes back, so that its line
// stays short.
const maxSuperseded = 10_000

// matchNs is how far apart two claims, or a claim and a found strike, may lie
// to be about the same strike.
const matchNs = 50_000_000

// MatchNs is the usual tolerance between a claim and a found strike: 50 ms.
func MatchNs() int64 { return matchNs }

// Standing returns the claims that no other claim supersedes, retractions
// left out, in order of onset; claims at the same onset keep their order.
// What was superseded once does not stand again when the later claim is
// superseded in turn: it must be claimed anew.
func Standing(claims []Claim) []Claim {
	gone := make(map[string]bool)
	for _, c := range claims {
		for _, id := range c.Supersedes {
			gone[id] = true
		}
	}
	var out []Claim
	for _, c := range claims {
		if !c.Retract && !gone[c.ID] {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b Claim) int { return cmp.Compare(a.OnsetNs, b.OnsetNs) })
	return out
}

// Origin is what claims that are made together share.
type Origin struct {
	Session, Source, Author string
	At                      time.Time
}

func (o Origin) stamp(c Claim) Claim {
	c.Session, c.Source, c.Author, c.At = o.Session, o.Source, o.Author, o.At
	return c
}

// Retraction takes claims back without replacing them.
func Retraction(o Origin, note string, ids ...string) Claim {
	ids = slices.Clone(ids)
	slices.Sort(ids)
	c := o.stamp(Claim{Retract: true, Supersedes: ids, Note: note})
	c.ID = c.ContentID()
	return c
}

// Revise returns what must be appended to the journal that holds old so that
// the standing claims of the origin's source become just next: claims that
// stand already are kept, the others are superseded. A session has one plan
// and one timed truth, whoever brought them; of claims by hand only those of
// the same author are revised. An empty result means that nothing is new.
//
// Session, source, author, time, IDs and Supersedes of next are filled in.
func Revise(old []Claim, o Origin, next []Claim) []Claim {
	ids := make(map[string]bool, len(old))
	for _, c := range old {
		ids[c.ID] = true
	}
	standing := make(map[string][]Claim) // by statement
	var order []string
	for _, c := range Standing(old) {
		if c.Source != o.Source || o.Source == Hand && c.Author != o.Author {
			continue
		}
		s := c.statement()
		if standing[s] == nil {
			order = append(order, s)
		}
		standing[s] = append(standing[s], c)
	}

	var fresh []Claim
	said := make(map[string]bool, len(next))
	for _, c := range next {
		c = o.stamp(c)
		c.Supersedes = nil
		s := c.statement()
		if said[s] {
			continue
		}
		said[s] = true
		if len(standing[s]) > 0 {
			standing[s] = standing[s][1:]
			continue
		}
		fresh = append(fresh, c)
	}
	var stale []Claim
	for _, s := range order {
		stale = append(stale, standing[s]...)
	}

	// A stale claim near a fresh one is superseded by it, the rest are retracted.
	replaced := make([]bool, len(stale))
	for _, pair := range MatchTimes(onsets(fresh), onsets(stale), matchNs) {
		fresh[pair[0]].Supersedes = []string{stale[pair[1]].ID}
		replaced[pair[1]] = true
	}
	var left []string
	for i, c := range stale {
		if !replaced[i] {
			left = append(left, c.ID)
		}
	}
	for i := range fresh {
		settleID(&fresh[i], ids)
	}
	for some := range slices.Chunk(left, maxSuperseded) {
		r := Retraction(o, "no longer claimed", some...)
		settleID(&r, ids)
		fresh = append(fresh, r)
	}
	return fresh
}

// Held is what a journal holds, parted by who made it, for Amend: of thousands of
// labellers each is then looked at alone.
type Held struct {
	all, standing map[maker][]Claim
}

// Hold parts the claims of a journal.
func Hold(old []Claim) *Held {
	h := &Held{make(map[maker][]Claim), make(map[maker][]Claim)}
	for _, c := range old {
		h.all[c.maker()] = append(h.all[c.maker()], c)
	}
	for _, c := range Standing(old) {
		h.standing[c.maker()] = append(h.standing[c.maker()], c)
	}
	return h
}

// Amend returns what must be appended to the journal for next to stand beside what
// stands already. A claim that stands in the same words is not repeated. Another one
// supersedes what the origin's author said with the same source within 50 ms of it.
// Nothing else changes.
//
// A claim of next may bear the time at which it was first made; the others were
// made at the origin's. One that the journal holds from that very time and that
// has since been superseded or taken back, and one that is older than what it
// would supersede, are left out and counted in outdated: the later word stands.
//
// Session, source, author, IDs and Supersedes of next are filled in.
func (h *Held) Amend(o Origin, next []Claim) (fresh []Claim, outdated int) {
	who := maker{o.Source, o.Author}
	ids := make(map[string]bool)
	made := make(map[string][]time.Time) // when a statement was made
	for _, c := range h.all[who] {
		ids[c.ID] = true
		s := c.statement()
		made[s] = append(made[s], c.At)
	}
	var before []Claim                                           // standing, about strikes
	stands, said := make(map[string]bool), make(map[string]bool) // statements of old and of next
	for _, c := range h.standing[who] {
		stands[c.statement()] = true
		if c.AboutStrike() {
			before = append(before, c)
		}
	}
	var strikes, whole []Claim
	for _, c := range next {
		at := c.At
		c = o.stamp(c)
		if !at.IsZero() {
			c.At = at
		}
		c.Supersedes = nil
		s := c.statement()
		repeated := said[s]
		said[s] = true
		switch {
		case repeated || stands[s]:
		case slices.ContainsFunc(made[s], c.At.Equal):
			outdated++
		case c.AboutStrike():
			strikes = append(strikes, c)
		default:
			whole = append(whole, c)
		}
	}
	// What next says again is not superseded by its neighbour.
	before = slices.DeleteFunc(before, func(c Claim) bool { return said[c.statement()] })
	late := make([]bool, len(strikes))
	for _, pair := range MatchTimes(onsets(strikes), onsets(before), matchNs) {
		c, rival := &strikes[pair[0]], before[pair[1]]
		if rival.At.After(c.At) {
			late[pair[0]] = true
			outdated++
			continue
		}
		c.Supersedes = []string{rival.ID}
	}
	for i, c := range strikes {
		if !late[i] {
			fresh = append(fresh, c)
		}
	}
	fresh = append(fresh, whole...)
	for i := range fresh {
		settleID(&fresh[i], ids)
	}
	return fresh, outdated
}

// settleID gives a claim its ID. A claim that was made before in the same
// words and has been superseded since also supersedes its earlier form, which
// tells the two apart.
func settleID(c *Claim, taken map[string]bool) {
	for c.ID = c.ContentID(); taken[c.ID]; c.ID = c.ContentID() {
		c.Supersedes = append(c.Supersedes, c.ID)
		slices.Sort(c.Supersedes)
	}
	taken[c.ID] = true
}

func onsets(claims []Claim) []int64 {
	out := make([]int64, len(claims))
	for i, c := range claims {
		out[i] = c.OnsetNs
	}
	return out
}
