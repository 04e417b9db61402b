package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Design says what a plan is to hold. A cell is a face, a band and a kind.
type Design struct {
	Faces   int
	Bands   []string // from the bottom
	Kinds   []string
	PerCell int    // strikes of each cell
	Pairs   int    // of those strikes, how many double hits to join
	Seed    uint64 // of the order
}

// mostPlanned is the longest plan that is made. Nobody strikes so often in one
// session with good form; what is longer is a slip of the keyboard.
const mostPlanned = 5000

func (d Design) cells() int { return d.Faces * len(d.Bands) * len(d.Kinds) }

// Strikes is how many strikes the plan holds.
func (d Design) Strikes() int { return d.cells() * d.PerCell }

func (d Design) check() error {
	switch n := d.Strikes(); {
	case d.Faces < 1 || len(d.Bands) == 0 || len(d.Kinds) == 0:
		return fmt.Errorf("plan: %d faces, %d bands and %d kinds: at least one of each is needed", d.Faces, len(d.Bands), len(d.Kinds))
	case d.PerCell < 1:
		return fmt.Errorf("plan: %d strikes a cell: at least 1 is needed", d.PerCell)
	case d.PerCell > mostPlanned || d.cells() > mostPlanned || n > mostPlanned:
		return fmt.Errorf("plan: %d cells of %d strikes are more than %d: plan several sessions", d.cells(), d.PerCell, mostPlanned)
	case d.Pairs < 0 || 2*d.Pairs > n:
		return fmt.Errorf("plan: %d double hits cannot be joined from %d strikes: ask for at most %d", d.Pairs, n, n/2)
	}
	return nil
}

// Order makes a plan: every cell equally often, in random order. Neighbours are
// never easily confused (see [Design.Confusable]) where that can be avoided,
// and strikes a few apart seldom are, so that a slip of the plan shows at once.
// The two hits of a double one are exempt: their rhythm tells, and a hand that
// is quick reaches no further than the next face. Where it can be had with
// that, each face and band comes once before any comes again, so that tiring
// hands and a loosening bag fall on all alike (complete blocks: Fisher 1935,
// The Design of Experiments).
//
// The order is found by simulated annealing over swaps (Kirkpatrick, Gelatt
// and Vecchi 1983, Science 220:671-680), from a random one. The same design
// gives the same plan.
func Order(d Design) ([]Entry, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(d.Seed, 0x6f72646572)) // "order"
	var best []Entry
	least := math.Inf(1)
	const blocked, free, short = 2, 4, 1000
	tries := blocked + free + short/d.Strikes() // few strikes have few good orders, and cost little
	for try := range tries {
		inBlocks := try < blocked
		s := newSearch(d, d.units(rng, inBlocks))
		s.weight = neighboursAlone()
		s.anneal(rng, 3, 0.1)
		s.weight = all()
		s.anneal(rng, 1, 0.02)
		if cost := s.total(); cost < least {
			best, least = s.entries, cost
		}
		if least < s.weight[1] { // no neighbours confused: as good as it gets
			break
		}
	}
	for i := range best {
		best[i].Order = i + 1
	}
	return best, nil
}

// Confusable tells whether an alignment might take one strike for the other:
// both face and band are the same or next to each other. Kinds tell little.
func (d Design) Confusable(a, b Entry) bool {
	bands := slices.Index(d.Bands, a.Band) - slices.Index(d.Bands, b.Band)
	return d.facesApart(a, b) <= 1 && bands >= -1 && bands <= 1
}

// facesApart counts the faces from one strike to the other, the short way.
func (d Design) facesApart(a, b Entry) int {
	n := (a.Face - b.Face + d.Faces) % d.Faces
	return min(n, d.Faces-n)
}

// samePair tells whether two neighbours are one double hit.
func samePair(a, b Entry) bool { return a.Pair == "one" && b.Pair == "two" }

// units returns every strike of the design, those of a double hit together, in
// random order: in blocks that hold each face and band once, kinds at random,
// or all in one.
func (d Design) units(rng *rand.Rand, inBlocks bool) [][][]Entry {
	blocks := make([][]Entry, d.PerCell*len(d.Kinds))
	for face := 1; face <= d.Faces; face++ {
		for _, band := range d.Bands {
			for i, k := range rng.Perm(len(blocks)) {
				blocks[i] = append(blocks[i], Entry{Face: face, Band: band, Kind: d.Kinds[k%len(d.Kinds)]})
			}
		}
	}
	if !inBlocks {
		whole := slices.Concat(blocks...)
		slices.SortStableFunc(whole, func(a, b Entry) int { return a.Face - b.Face })
		blocks = [][]Entry{whole}
	}
	out := make([][][]Entry, len(blocks))
	left := d.Pairs
	for i, singles := range blocks {
		pairs := min(left/(len(blocks)-i), len(singles)/2)
		left -= pairs
		units, singles := d.join(singles, pairs, rng)
		for _, e := range singles {
			units = append(units, []Entry{e})
		}
		rng.Shuffle(len(units), func(i, j int) { units[i], units[j] = units[j], units[i] })
		out[i] = units
	}
	if left > 0 { // blocks of an odd number cannot hold them all
		return d.units(rng, false)
	}
	return out
}

// join takes n double hits out of strikes that come by face: each of one face
// or two neighbouring ones, at random as long as that leaves a partner for each.
func (d Design) join(byFace []Entry, n int, rng *rand.Rand) (pairs [][]Entry, rest []Entry) {
	rest = slices.Clone(byFace)
	rng.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	for len(pairs) < n {
		one := rest[0]
		k := slices.IndexFunc(rest[1:], func(e Entry) bool {
			return d.facesApart(one, e) <= 1 && (e.Face != one.Face || e.Band != one.Band)
		})
		if k < 0 { // painted into a corner: join them in order of faces instead
			pairs, rest = nil, byFace
			for len(pairs) < n {
				pairs = append(pairs, pairOf(rest[0], rest[1]))
				rest = rest[2:]
			}
			break
		}
		pairs = append(pairs, pairOf(one, rest[1+k]))
		rest = slices.Delete(rest, 1+k, 2+k)[1:]
	}
	return pairs, rest
}

func pairOf(one, two Entry) []Entry {
	one.Pair, two.Pair = "one", "two"
	return []Entry{one, two}
}

// likeness grades how easily strikes are confused, by the faces and bands
// between them; 0 where they are not.
func (d Design) likeness(a, b Entry) float64 {
	if !d.Confusable(a, b) {
		return 0
	}
	switch sameFace, sameBand := a.Face == b.Face, a.Band == b.Band; {
	case sameFace && sameBand:
		return 6
	case sameBand:
		return 3
	case sameFace:
		return 2
	}
	return 1
}

// apart is how many strikes apart likeness still costs in the search.
const apart = 6

// weights of likeness by how many strikes apart.
type weights [apart + 1]float64

// neighboursAlone are the weights of a first search, which looks for an order
// without neighbours that are easily confused.
func neighboursAlone() weights { return weights{1: 1} }

// all are the weights of the search that follows: no number of later strikes
// makes up for one of neighbours, and a slip by a few is likelier than by many.
func all() weights { return weights{1: 1e6, 2: 2, 3: 2, 4: 1, 5: 1, 6: 1} }

// search is an order that is being improved.
type search struct {
	weight  weights
	entries []Entry
	place   []int       // of each entry: its face and band as one number
	like    [][]float64 // likeness of strikes at two places
	units   []unit
	alike   [][]int // positions of the units that may change places
}

// unit is one strike, or a double hit, in the order.
type unit struct {
	n     int // strikes
	alike int // which of the units may take its place
}

func newSearch(d Design, blocks [][][]Entry) *search {
	s := &search{}
	for b, units := range blocks {
		s.alike = append(s.alike, nil, nil) // single strikes and double hits
		for _, u := range units {
			k := 2*b + len(u) - 1
			s.alike[k] = append(s.alike[k], len(s.entries))
			s.units = append(s.units, unit{len(u), k})
			s.entries = append(s.entries, u...)
		}
	}
	for _, e := range s.entries {
		s.place = append(s.place, (e.Face-1)*len(d.Bands)+slices.Index(d.Bands, e.Band))
	}
	for p := range d.Faces * len(d.Bands) {
		row := make([]float64, d.Faces*len(d.Bands))
		for q := range row {
			row[q] = d.likeness(d.at(p), d.at(q))
		}
		s.like = append(s.like, row)
	}
	return s
}

// at is a strike at a place of the search.
func (d Design) at(place int) Entry {
	return Entry{Face: 1 + place/len(d.Bands), Band: d.Bands[place%len(d.Bands)]}
}

// confused is the cost of strikes i and i+k.
func (s *search) confused(i, k int) float64 {
	if i < 0 || i+k >= len(s.entries) {
		return 0
	}
	if k == 1 && samePair(s.entries[i], s.entries[i+1]) {
		return 0
	}
	return s.weight[k] * s.like[s.place[i]][s.place[i+k]]
}

// between adds up the cost of all strikes from i to before j with those after
// them.
func (s *search) between(i, j int) float64 {
	sum := 0.0
	for ; i < j; i++ {
		for k := 1; k <= apart; k++ {
			sum += s.confused(i, k)
		}
	}
	return sum
}

func (s *search) total() float64 { return s.between(0, len(s.entries)) }

// around is the cost of everything that two units of n strikes touch.
func (s *search) around(p, q, n int) float64 {
	if p > q {
		p, q = q, p
	}
	if q-apart < p+n {
		return s.between(p-apart, q+n)
	}
	return s.between(p-apart, p+n) + s.between(q-apart, q+n)
}

func (s *search) swap(p, q, n int) {
	for i := range n {
		s.entries[p+i], s.entries[q+i] = s.entries[q+i], s.entries[p+i]
		s.place[p+i], s.place[q+i] = s.place[q+i], s.place[p+i]
	}
}

// anneal swaps units of the same length within their block, worse orders being taken ever more
// seldom as the warmth falls from first to last, in units of the cost. It
// stops at an order without cost.
func (s *search) anneal(rng *rand.Rand, first, last float64) {
	steps := min(200*len(s.entries), 200_000)
	cost := s.total()
	for step := 0; step < steps && cost > 0; step++ {
		u := s.units[rng.IntN(len(s.units))]
		n, at := u.n, s.alike[u.alike]
		p, q := at[rng.IntN(len(at))], at[rng.IntN(len(at))]
		if p == q {
			continue
		}
		before := s.around(p, q, n)
		s.swap(p, q, n)
		worse := s.around(p, q, n) - before
		warmth := first * math.Pow(last/first, float64(step)/float64(steps))
		if worse > 0 && rng.Float64() >= math.Exp(-worse/warmth) {
			s.swap(p, q, n)
			continue
		}
		cost += worse
	}
}

// Slip says how a plan stands up to being laid over a session some strikes too
// early or too late.
type Slip struct {
	By      int     // strikes
	Shows   float64 // share of the strikes that it puts where they cannot be taken for their own: not on the same or a neighbouring face in the same or a neighbouring band
	Longest int     // stretch of strikes that would not show it
}

// Slips judges a plan for slips by one to most strikes; a slip forward and one
// back by as many are alike.
func (d Design) Slips(entries []Entry, most int) []Slip {
	var out []Slip
	for by := 1; by <= most && by < len(entries); by++ {
		s := Slip{By: by}
		hidden, run := 0, 0
		for i := range len(entries) - by {
			if !d.Confusable(entries[i], entries[i+by]) {
				run = 0
				continue
			}
			hidden++
			run++
			s.Longest = max(s.Longest, run)
		}
		s.Shows = 1 - float64(hidden)/float64(len(entries)-by)
		out = append(out, s)
	}
	return out
}

// ConfusableNeighbours counts the neighbours that are easily confused, the two
// hits of a double one left out: 0 where it could be avoided.
func (d Design) ConfusableNeighbours(entries []Entry) int {
	n := 0
	for i := 1; i < len(entries); i++ {
		if d.Confusable(entries[i-1], entries[i]) && !samePair(entries[i-1], entries[i]) {
			n++
		}
	}
	return n
}

// Rounds cuts a plan into rounds of about size strikes, equally long as far as
// double hits, which stay together, allow. size below 1 makes one round.
func Rounds(entries []Entry, size int) [][]Entry {
	if len(entries) == 0 {
		return nil
	}
	if size < 1 {
		size = len(entries)
	}
	rounds := (len(entries) + size - 1) / size
	var out [][]Entry
	from := 0
	for k := 1; k <= rounds; k++ {
		to := k * len(entries) / rounds
		if to < len(entries) && samePair(entries[to-1], entries[to]) {
			to--
		}
		if to > from {
			out = append(out, entries[from:to])
			from = to
		}
	}
	return out
}
