package onset

import "math"

// Finder finds strikes in one segment after another. It is not safe for
// concurrent use.
type Finder struct {
	p     Params
	noise noiseMeter
	spike despiker
	ev    event

	last [3]float64    // newest reading, repeated where one is no number
	real int64         // readings pushed, without padding
	hist [][3]float64  // cleaned samples on the grid, by number modulo its length
	mask int64         // length less one
	n    int64         // cleaned samples so far
	diff [2]difference // short, of the two horizontal axes

	clean   [3]float64 // newest cleaned sample
	mended  bool       // a blip was taken out there
	cleaned bool       // the last Push handed one out

	collecting bool
	trig       int64
	level      float64 // trigger level at the trigger
	most2      float64 // largest squared short difference since
	mostAt     int64   // where
	holdTo     int64   // no trigger before this sample

	strikeAt   int64      // onset of the segment's last strike, if strikeSize is not 0
	strikeSize float64    // its short difference
	ring       [2]float64 // what it adds to the trigger level: fast and slow
	faded      int64      // samples up to which that holds
	decay      [2]float64 // their factors per sample
}

// New returns a finder at the start of a segment. It errors on a
// configuration that no finder can work with, naming the rig file's entry.
func New(c Config) (*Finder, error) {
	p, err := paramsFor(c)
	if err != nil {
		return nil, err
	}
	size := 1
	for size < p.Span()+Lookahead {
		size *= 2
	}
	f := &Finder{p: p, noise: newNoiseMeter(c, p), ev: newEvent(p), hist: make([][3]float64, size), mask: int64(size - 1)}
	for i, s := range [...]float64{ringFastS, ringSlowS} {
		f.decay[i] = math.Exp(-1 / (s * p.RateHz))
	}
	f.Restart()
	return f, nil
}

// Params returns the finder's numbers.
func (f *Finder) Params() Params { return f.p }

// Restart begins a new segment: everything is forgotten but the noise.
func (f *Finder) Restart() {
	f.noise.restart()
	f.spike = newDespiker(f.p.RateHz)
	f.diff = [2]difference{{k: f.p.Short}, {k: f.p.Short}}
	f.last, f.real, f.n = [3]float64{}, 0, 0
	f.cleaned, f.collecting, f.holdTo = false, false, 0
	f.strikeAt, f.strikeSize, f.ring, f.faded = 0, 0, [2]float64{}, 0
}

// Push takes the next sample in the bag's frame, m/s2, and returns an event
// when one is decided. A reading that is no number is taken as the one before.
func (f *Finder) Push(a [3]float64) (Event, bool) {
	for k := range a {
		if math.IsNaN(a[k]) {
			a[k] = f.last[k]
		}
		a[k] = min(max(a[k], -f.p.LimitMPS2), f.p.LimitMPS2)
	}
	f.last = a
	f.real++
	return f.advance(a, f.noise.push(a))
}

// Pad stands for a sample after the segment's end: the last reading again. It
// moves what is pending to its decision but begins nothing new.
func (f *Finder) Pad() (Event, bool) { return f.advance(f.last, f.noise.value) }

// Busy tells whether an event is being collected.
func (f *Finder) Busy() bool { return f.collecting }

// Clean returns the sample that the last Push or Pad handed on, Lookahead
// samples late, and whether a blip was taken out there. ok is false while
// there is none.
func (f *Finder) Clean() (a [3]float64, mended, ok bool) { return f.clean, f.mended, f.cleaned }

// advance takes one reading through all parts.
func (f *Finder) advance(a [3]float64, noise float64) (Event, bool) {
	f.clean, f.mended, f.cleaned = f.spike.push(a, noise)
	if !f.cleaned {
		return Event{}, false
	}
	x := snap(f.clean)
	if f.n == 0 { // what came before is taken to have been like the first sample
		for i := range f.hist {
			f.hist[i] = x
		}
	}
	n, k := f.n, int64(f.p.Short)
	f.hist[n&f.mask] = x
	f.n++
	x1, x2, x3 := f.hist[(n-k)&f.mask], f.hist[(n-2*k)&f.mask], f.hist[(n-3*k)&f.mask]
	var size2 float64
	for i := range f.diff {
		f.diff[i].push(x[i], x1[i], x2[i], x3[i])
		size2 += float64(f.diff[i].sum * f.diff[i].sum)
	}
	size2 /= float64(4 * k * k)
	switch {
	case f.collecting:
		if f.over(n, size2) {
			f.collecting = false
			return f.decide(n, noise), true
		}
	case n >= f.holdTo && n < f.real && f.noise.measured():
		f.trigger(n, size2, noise)
	}
	return Event{}, false
}

// trigger begins an event at sample n if its squared short difference is above
// the level.
func (f *Finder) trigger(n int64, size2, noise float64) {
	if level := f.levelAt(n, noise); size2 > level*level {
		f.collecting, f.trig, f.level = true, n, level
		f.most2, f.mostAt = size2, n
	}
}

// over follows an event by sample n and tells whether it is to be decided there.
func (f *Finder) over(n int64, size2 float64) bool {
	if size2 > f.most2 {
		f.most2, f.mostAt = size2, n
	}
	return n >= f.trig+int64(f.p.Collect) && n >= f.mostAt+int64(f.p.Settle) || n == f.trig+int64(f.p.Longest)
}

// levelAt returns the trigger level at sample n. What a strike adds to it has
// faded sample by sample since; once that is below what the noise asks for, it
// stays below, and need not be followed any further.
func (f *Finder) levelAt(n int64, noise float64) float64 {
	least := max(f.p.PerNoise*noise, f.p.FloorMPS2)
	for ; f.faded <= n && f.ring != [2]float64{}; f.faded++ {
		for i := range f.ring {
			f.ring[i] *= f.decay[i]
		}
		if f.noise.known && f.ring[0]+f.ring[1] < least {
			f.ring = [2]float64{}
		}
	}
	return max(least, f.ring[0]+f.ring[1])
}

// decide judges the event that was collected up to sample n.
func (f *Finder) decide(n int64, noise float64) Event {
	start := f.trig - int64(f.ev.trig)
	f.ev.x = f.ev.x[:n-start+1]
	for i := range f.ev.x {
		f.ev.x[i] = f.hist[(start+int64(i))&f.mask]
	}
	// The noise may have been measured since the trigger.
	f.ev.level, f.ev.noise = max(f.level, f.p.PerNoise*noise), noise
	snatchable := f.strikeSize > 0 && f.trig-f.strikeAt <= int64(f.p.Snatch)
	e := Event{Verdict: f.ev.decide(f.strikeSize, snatchable), Decided: n}
	e.Onset = max(0, start+int64(f.ev.onset))
	for i := range f.ev.nMends {
		e.Mended[i] = Run{Start: start + f.ev.mended[i].Start, N: f.ev.mended[i].N}
	}
	e.ShortMPS2, e.LongMPS2, e.RawMPS2, e.VerticalMPS2, e.Tail = f.ev.short, f.ev.long, f.ev.raw, f.ev.vertical, f.ev.tail
	if e.Verdict == Strike {
		f.strikeAt, f.strikeSize = e.Onset, e.ShortMPS2
		f.holdTo = e.Onset + int64(f.p.Dead)
		ago := float64(n-e.Onset) / f.p.RateHz
		f.ring[0] = ringFast * f.strikeSize * math.Exp((deadMs/1000.0-ago)/ringFastS)
		f.ring[1] = ringSlow * f.strikeSize * math.Exp(-ago/ringSlowS)
		f.faded = n + 1
	}
	return e
}
