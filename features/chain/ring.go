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

// ring holds the newest readings of a segment by number and column: raw ones up
// to n, conditioned ones up to cleaned. Readings of a stretch may stand beyond n
// before they are taken.
type ring struct {
	t       []int64
	a, g    [][3]float64
	flags   []flags
	mask    int64
	n       int64 // readings taken
	cleaned int64 // readings that left the despiker
}

func newRing(span int) ring {
	size := powerOfTwo(span)
	return ring{
		t: make([]int64, size), a: make([][3]float64, size), g: make([][3]float64, size), flags: make([]flags, size),
		mask: int64(size - 1),
	}
}

func (r *ring) push(x cell) {
	i := r.n & r.mask
	r.t[i], r.a[i], r.g[i], r.flags[i] = x.t, x.a, x.g, x.flags
	r.n++
}

// newest is the last reading taken.
func (r *ring) newest() cell {
	i := (r.n - 1) & r.mask
	return cell{t: r.t[i], a: r.a[i], g: r.g[i], flags: r.flags[i]}
}

// pad repeats the last reading.
func (r *ring) pad() {
	x := r.newest()
	x.flags = padded
	r.push(x)
}

// clean takes the despiker's version of the oldest raw reading and returns where
// it stands.
func (r *ring) clean(a [3]float64, mended bool) int64 {
	i := r.cleaned & r.mask
	r.a[i] = a
	if mended {
		r.flags[i] &^= clipped // the reading at the limit was the blip
	}
	r.cleaned++
	return i
}

// place is where reading i stands, the first one for what came before it.
func (r *ring) place(i int64) int64 { return max(i, 0) & r.mask }

func (r *ring) isPadded(i int64) bool { return r.flags[r.place(i)]&padded != 0 }

func (r *ring) restart() { r.n, r.cleaned = 0, 0 }
