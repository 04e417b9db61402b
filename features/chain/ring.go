package chain

// flags of one reading.
type flags uint8

const (
	clipped flags = 1 << iota // an accelerometer axis was at its limit
	filled                    // lost and filled, or no number
	padded                    // after the segment's end
)

// cell is one reading in the bag's frame.
type cell struct {
	t     int64 // ns
	a, g  [3]float64
	flags flags
}

// ring holds the newest readings of a segment by number: raw ones up to n,
// conditioned ones up to cleaned.
type ring struct {
	cells   []cell
	mask    int64
	n       int64 // readings taken
	cleaned int64 // readings that left the despiker
}

func newRing(span int) ring {
	size := powerOfTwo(span)
	return ring{cells: make([]cell, size), mask: int64(size - 1)}
}

func (r *ring) push(x cell) {
	r.cells[r.n&r.mask] = x
	r.n++
}

// pad repeats the last reading.
func (r *ring) pad() {
	x := r.cells[(r.n-1)&r.mask]
	x.flags = padded
	r.push(x)
}

// clean takes the despiker's version of the oldest raw reading.
func (r *ring) clean(a [3]float64, mended bool) *cell {
	x := &r.cells[r.cleaned&r.mask]
	x.a = a
	if mended {
		x.flags &^= clipped // the reading at the limit was the blip
	}
	r.cleaned++
	return x
}

// at returns reading i, the first one for what came before it.
func (r *ring) at(i int64) *cell { return &r.cells[max(i, 0)&r.mask] }

func (r *ring) isPadded(i int64) bool { return r.at(i).flags&padded != 0 }

func (r *ring) restart() { r.n, r.cleaned = 0, 0 }
