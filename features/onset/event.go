package onset

import "math"

// Verdict says what an event was.
type Verdict uint8

// Verdicts, in the order in which the rules are asked; the first that applies
// stands.
const (
	Strike Verdict = iota
	Blip           // one to three spoiled readings, or no more than noise
	Swing          // rocking, or the bag bouncing on its chain
	Shove          // a push that lasts
	Snatch         // the chain pulled taut after a hard blow
)

// String names the verdict.
func (v Verdict) String() string {
	return [...]string{"strike", "blip", "swing", "shove", "snatch"}[v]
}

// Run is a stretch of samples that mending replaced by the line across them.
type Run struct {
	Start int64 // sample number in the segment
	N     int
}

// Event is what the finder says of one event. Sample numbers count from the
// segment's first sample.
type Event struct {
	Verdict Verdict
	Onset   int64  // the sample at which contact begins
	Decided int64  // the newest sample that the decision used
	Mended  [2]Run // N is 0 where unused

	ShortMPS2    float64 // largest short difference across the bag
	LongMPS2     float64 // largest long difference across the bag
	RawMPS2      float64 // largest second difference of single samples across the bag
	VerticalMPS2 float64 // largest short difference along the bag
	Tail         float64 // push 28 to 44 ms after the onset, as a part of that in 2 to 18 ms
}

// event is the finder's work space for one event: a copy of the samples around
// it, which mending may change, and what is measured on them.
type event struct {
	p      Params
	x      [][3]float64 // samples, on the grid
	sums   prefix
	line   []float64 // samples along the push
	trig   int       // position of the trigger in x
	level  float64   // trigger level, m/s2
	noise  float64
	mended [2]Run // positions in x
	nMends int

	short, long, raw, vertical float64
	shortAt, rawAt             int
	onset                      int
	tail                       float64
}

// back is how many samples before the trigger an event needs: for the long
// difference, and for the reading before the earliest onset.
func (p Params) back() int {
	return max(3*p.Long, 3*p.Short+p.Before+samples(tailBaseFromMs, p.RateHz)) + 2
}

// Span is how many samples an event holds at most. An event's onset is never
// further back than that when it is decided.
func (p Params) Span() int { return p.back() + p.Longest + 1 }

func newEvent(p Params) event {
	return event{
		p:    p,
		x:    make([][3]float64, p.Span()),
		sums: make(prefix, p.Span()+1),
		line: make([]float64, p.Span()),
		trig: p.back(),
	}
}

// measure takes the differences' largest values.
func (e *event) measure() {
	e.sums = e.sums[:len(e.x)+1]
	e.sums.fill(e.x)
	k1, k3 := e.p.Short, e.p.Long
	e.short, e.long, e.raw, e.vertical = 0, 0, 0, 0
	for n := e.trig; n < len(e.x); n++ {
		d := e.sums.second(n, k1)
		if m := across2(d); m > e.short {
			e.short, e.shortAt = m, n
		}
		e.vertical = max(e.vertical, math.Abs(d[2]))
	}
	for n := e.trig; n < min(len(e.x), e.shortAt+e.p.Lag+1); n++ {
		e.long = max(e.long, across2(e.sums.second(n, k3)))
	}
	e.raw, e.rawAt = e.rawLargest(-1, 0)
	e.short, e.long = math.Sqrt(e.short), math.Sqrt(e.long)
}

// rawLargest returns the largest second difference of single samples across
// the bag and where it ends, with the n samples from start replaced by the
// line across them (none for n = 0).
func (e *event) rawLargest(start, n int) (size float64, at int) {
	get := func(i int) [3]float64 {
		if i < start || i >= start+n {
			return e.x[i]
		}
		return line(e.x[start-1], e.x[start+n], int64(i-start+1), int64(n+1))
	}
	// A blip may have raised the short difference with any of its three boxcars.
	for i := e.trig - 3*e.p.Short; i < len(e.x); i++ {
		a, b, c := get(i), get(i-1), get(i-2)
		for k := range a {
			a[k] = b[k] - (a[k]+c[k])/2
		}
		if m := across2(a); m > size {
			size, at = m, i
		}
	}
	return math.Sqrt(size), at
}

// longerRun is what a longer run must leave of the largest raw second
// difference, as a part of what a shorter one leaves.
const longerRun = 0.7

// mend replaces the run of up to Params.Blip samples whose removal lowers the
// largest raw second difference most.
func (e *event) mend() {
	best, start, n := e.raw, 0, 0
	// Only a run that touches the three samples of the largest can lower it.
	for w := 1; w <= e.p.Blip; w++ {
		for s := e.rawAt - 2 - (w - 1); s <= e.rawAt && s+w < len(e.x); s++ {
			// A longer run flattens some noise besides: it must do clearly better.
			if m, _ := e.rawLargest(s, w); m < best && (w == n || n == 0 || m < longerRun*best) {
				best, start, n = m, s, w
			}
		}
	}
	if n == 0 {
		return
	}
	a, b := e.x[start-1], e.x[start+n]
	for j := range n {
		e.x[start+j] = snap(line(a, b, int64(j+1), int64(n+1)))
	}
	e.mended[e.nMends] = Run{Start: int64(start), N: n}
	e.nMends++
}

// place finds the onset: the samples along the direction of the largest
// deviation, from before mid-contact to the peak, split in two.
func (e *event) place() {
	mid := e.shortAt - 3*e.p.Short/2
	from := max(0, mid-e.p.Before)
	base := e.sums.mean(from, from+e.p.Before/2)
	peak, size := from, 0.0
	for i := from; i <= e.shortAt; i++ {
		x, y := e.x[i][0]-base[0], e.x[i][1]-base[1]
		if m := float64(x*x) + float64(y*y); m > size {
			peak, size = i, m
		}
	}
	if size == 0 {
		e.onset = mid
		return
	}
	ux, uy := (e.x[peak][0]-base[0])/math.Sqrt(size), (e.x[peak][1]-base[1])/math.Sqrt(size)
	line := e.line[:peak-from+1]
	for i := range line {
		line[i] = float64(ux*(e.x[from+i][0]-base[0])) + float64(uy*(e.x[from+i][1]-base[1]))
	}
	// Half the noise still counts as still.
	e.onset = from + aicPick(line, e.noise*e.noise/4) - onsetSamples
}
