package translatetest

// Words is the input or output of a program.
type Words struct{ V [8]int64 }

// Random makes numbers of all sizes (xorshift64, Marsaglia 2003).
type Random struct{ State uint64 }

func (r *Random) next() uint64 {
	x := r.State
	x ^= x << 13
	x ^= x >> 7
	x ^= x << 17
	r.State = x
	return x
}

// Fill draws a program's input: every length in bits is as likely, and the
// limits of the types come now and then.
func (r *Random) Fill(w *Words) {
	for i := range w.V {
		size := r.next()
		kind := r.next()
		x := size >> (kind & 63)
		switch kind >> 6 & 31 {
		case 0:
			x = 1 << 31
		case 1:
			x = 0x7fffffff
		case 2:
			x = 1 << 63
		case 3:
			x = 0xffffffff
		}
		if kind>>11&1 != 0 {
			x = 0 - x
		}
		w.V[i] = int64(x)
	}
}

// Mix folds a program's output into a check number.
func Mix(sum uint32, w *Words) uint32 {
	for i := range w.V {
		x := uint64(w.V[i])
		sum = (sum ^ uint32(x)) * 16777619
		sum = (sum ^ uint32(x>>32)) * 16777619
		sum ^= sum >> 15
	}
	return sum
}
