package onset

import "math"

// screenSlack keeps the screening of a squared difference below what the exact
// comparison calls a trigger, whatever their last bits.
const screenSlack = 1e-9

// Follow takes readings as Push would one by one, in a fraction of the time, and
// returns how many: up to the first that decides an event, is mended or is not
// within the limit, which is for Push. What it took, it left as it was,
// Lookahead readings late as ever. The finder is then in the state in which Push
// would have left it. It takes none while the noise is not known.
func (f *Finder) Follow(a [][3]float64) int {
	if !f.noise.known || f.n == 0 || f.real != f.spike.n || f.spike.busy(f.p.LimitMPS2) {
		return 0
	}
	still := stepNoise * f.noise.value
	still *= still
	k := int64(f.p.Short)
	times := float64(4 * k * k)
	least := max(f.p.PerNoise*f.noise.value, f.p.FloorMPS2)
	screen := least * least * times * (1 - screenSlack)
	limit, hist, mask := f.p.LimitMPS2, f.hist, f.mask
	n, dx, dy := f.n, f.diff[0].sum, f.diff[1].sum
	// Numbers by name and no arrays: the compiler keeps those in memory.
	before := f.spike.ring[(n-1)&7]
	bx, by, bz := before[0], before[1], before[2]
	beside := distance2(before, f.spike.ring[(n-2)&7])
	taken, spiked := 0, 0 // readings taken, and those of them that the despiker has
	for ; taken < len(a); taken++ {
		newest := &a[taken]
		if !(math.Abs(newest[0]) < limit && math.Abs(newest[1]) < limit && math.Abs(newest[2]) < limit) {
			break
		}
		now := &f.spike.ring[n&7]
		if taken >= Lookahead {
			now = &a[taken-Lookahead]
		}
		x, y, z := now[0], now[1], now[2]
		ux, uy, uz := x-bx, y-by, z-bz
		into := float64(ux*ux) + float64(uy*uy) + float64(uz*uz)
		// A blip moves by more than noise, and by more than the signal did before it.
		if into > still && into > beside {
			f.spike.take(a[spiked:taken])
			spiked = taken
			if f.spike.foresee(*newest, f.noise.value) {
				break
			}
		}
		x0, y0, z0 := (x+toGrid)-toGrid, (y+toGrid)-toGrid, (z+toGrid)-toGrid
		h1, h2, h3 := &hist[(n-k)&mask], &hist[(n-2*k)&mask], &hist[(n-3*k)&mask]
		sx := dx + (3*(h1[0]-h2[0]) + (h3[0] - x0))
		sy := dy + (3*(h1[1]-h2[1]) + (h3[1] - y0))
		size := float64(sx*sx) + float64(sy*sy)
		if f.collecting {
			if f.over(n, size/times) {
				break
			}
		} else if size > screen && n >= f.holdTo {
			f.trigger(n, size/times, f.noise.value)
		}
		h := &hist[n&mask]
		h[0], h[1], h[2] = x0, y0, z0
		bx, by, bz, dx, dy, beside = x, y, z, sx, sy, into
		n++
	}
	f.spike.take(a[spiked:taken])
	if taken > 0 {
		f.n, f.diff[0].sum, f.diff[1].sum = n, dx, dy
		f.last = a[taken-1]
		f.real += int64(taken)
		f.clean, f.mended, f.cleaned = [3]float64{bx, by, bz}, false, true
	}
	return taken
}
