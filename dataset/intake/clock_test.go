package intake

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// trueClock is a simulated board clock: the true times of samples, which of
// them are lost, and what the board wrote.
type trueClock struct {
	times []float64 // seconds, of the samples that are there
	raw   []int64
	lost  int
}

// makeClock simulates n samples at a rate whose error drifts, stamped in units
// of 1/perSecond with jitter, each lost with a small probability.
func makeClock(n int, rateHz, driftPerS, perSecond, jitterS, loss float64, start int64, seed uint64) trueClock {
	rnd := rand.New(rand.NewPCG(seed, 2))
	var c trueClock
	phase := rnd.Float64() / rateHz
	t := 0.0
	for i := range n {
		if rnd.Float64() < loss && i > 0 && i < n-1 { // a loss at either end leaves no trace
			c.lost++
		} else {
			c.times = append(c.times, t)
			stamp := (t + phase + jitterS*(rnd.Float64()-0.5)) * perSecond
			c.raw = append(c.raw, start+int64(math.Floor(stamp)))
		}
		t += (1 + driftPerS*t) / rateHz
	}
	return c
}

func (c trueClock) stamps(perSecond float64, moduli ...float64) Stamps {
	return Stamps{Raw: c.raw, PerSecond: perSecond, Moduli: moduli}
}

// worstError is the largest error of repaired times in seconds, after the mean
// is taken off: the clock's own start cannot be known better than its grain.
func worstError(r *ClockReport, times []float64) (worst float64) {
	mean := 0.0
	for i, t := range times {
		mean += float64(r.TNs[i])/1e9 - t
	}
	mean /= float64(len(times))
	for i, t := range times {
		worst = max(worst, math.Abs(float64(r.TNs[i])/1e9-t-mean))
	}
	return worst
}

func TestRepairClockTimes(t *testing.T) {
	for _, c := range []struct {
		name                                 string
		rate, drift, perSecond, jitter, loss float64
		worst                                float64 // seconds
		exact                                bool    // every lost sample is counted
	}{
		{"microseconds", 1000, 0, 1e6, 6e-6, 0, 3e-6, true},
		{"microseconds, losses", 1002.1, 0, 1e6, 6e-6, 0.004, 3e-6, true},
		{"drifting by 3 ppm a second", 1002.1, 3e-6, 1e6, 6e-6, 0.004, 5e-5, true},
		{"hundredths of milliseconds", 399.7, 0, 1e5, 6e-6, 0.003, 5e-6, true},
		{"whole milliseconds at 800 Hz", 803.77, 0, 1e3, 6e-6, 0.002, 6e-5, true},
		{"whole milliseconds at 400 Hz", 400.3, 0, 1e3, 6e-6, 0.002, 6e-5, true},
		{"whole milliseconds at 1600 Hz", 1603.3, 0, 1e3, 6e-6, 0, 6e-5, true},
		{"whole milliseconds at 1000 Hz, losses", 1002.3, 0, 1e3, 6e-6, 0.002, 1.1e-3, false},
		{"a third lost", 1002.1, 0, 1e6, 6e-6, 0.33, 3e-6, true},
		{"jitter of 0.3 periods", 1000, 0, 1e6, 3e-4, 0.001, 4e-5, true},
	} {
		k := makeClock(60000, c.rate, c.drift, c.perSecond, c.jitter, c.loss, 4000, 5)
		r, err := repairCounted(k.stamps(c.perSecond))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		worst := worstError(r.ClockReport, k.times)
		t.Logf("%s: worst error %.2g ms, %d of %d lost samples counted", c.name, 1000*worst, r.Lost, k.lost)
		if worst > c.worst {
			t.Errorf("%s: worst error %.3g s, want at most %g", c.name, worst, c.worst)
		}
		if c.exact && r.Lost != int64(k.lost) || r.Restarts != 0 || len(r.Damaged) != 0 {
			t.Errorf("%s: lost %d of %d, restarts %d, damaged stamps %v", c.name, r.Lost, k.lost, r.Restarts, r.Damaged)
		}
	}
}

func TestRepairClockEvents(t *testing.T) {
	even := func(n int) []int64 {
		raw := make([]int64, n)
		for i := range raw {
			raw[i] = 1000000 + 1000*int64(i)
		}
		return raw
	}
	for _, c := range []struct {
		name   string
		change func([]int64) []int64
		moduli []float64
		strict bool
		want   func(r *counted) bool
	}{
		{"a bit flipped", func(x []int64) []int64 { x[500] ^= 1 << 24; return x }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && r.Damaged[0] == 500 && r.TNs[500] == 500e6 && r.Keep[500]
		}},
		{"a low bit flipped", func(x []int64) []int64 { x[500] ^= 1 << 11; return x }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && r.TNs[500] == 500e6 && r.Lost == 0
		}},
		{"one period late", func(x []int64) []int64 { x[500] += 1000; return x }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && r.Lost == 0 && r.TNs[501] == 501e6
		}},
		{"flipped where frames have a checksum", func(x []int64) []int64 { x[500] ^= 1 << 24; return x }, nil, true, func(r *counted) bool {
			return len(r.Damaged) == 1 && !r.Keep[500] && r.Lost == 1
		}},
		{"a digit dropped in five rows running", func(x []int64) []int64 {
			for i := range 5 {
				x[700+i] /= 10
			}
			return x
		}, nil, false, func(r *counted) bool { return len(r.Damaged) == 5 && r.TNs[702] == 702e6 && r.Segment[999] == 0 }},
		{"a row twice", func(x []int64) []int64 { return append(x[:501:501], x[500:]...) }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && (!r.Keep[500] || !r.Keep[501]) && r.Lost == 0
		}},
		{"first stamp wrong", func(x []int64) []int64 { x[0] = 77; return x }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && r.TNs[0] == 0 && r.TNs[1] == 1e6
		}},
		{"last stamp wrong", func(x []int64) []int64 { x[999] = 77; return x }, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 1 && r.TNs[999] == 999e6
		}},
		{"three samples lost", func(x []int64) []int64 { return append(x[:400], x[403:]...) }, nil, false, func(r *counted) bool {
			return r.Lost == 3 && r.Gaps == 0 && r.TNs[400] == 403e6 && r.Segment[996] == 0
		}},
		{"six samples lost", func(x []int64) []int64 { return append(x[:400], x[406:]...) }, nil, false, func(r *counted) bool {
			return r.Lost == 6 && r.Gaps == 1 && r.TNs[400] == 406e6 && r.Segment[399] == 0 && r.Segment[400] == 1
		}},
		{"a pause of half a minute", func(x []int64) []int64 {
			for i := 400; i < len(x); i++ {
				x[i] += 30000000
			}
			return x
		}, nil, false, func(r *counted) bool { return r.Lost == 30000 && r.Gaps == 1 && r.TNs[400] == 30400e6 }},
		{"restart", func(x []int64) []int64 {
			for i := 400; i < len(x); i++ {
				x[i] = 137 + 1000*int64(i-400)
			}
			return x
		}, nil, false, func(r *counted) bool {
			return r.Restarts == 1 && r.Gaps == 0 && r.Lost == 0 && r.TNs[400] == 400e6 && r.Segment[400] == 1
		}},
		{"restart two and a half samples back, after a wrong stamp", func(x []int64) []int64 {
			x[399] ^= 1 << 27
			for i := 400; i < len(x); i++ {
				x[i] -= 2500
			}
			return x
		}, nil, false, func(r *counted) bool {
			return r.Restarts == 1 && len(r.Damaged) == 1 && r.Keep[398] && r.Keep[399] && r.TNs[400] == 400e6
		}},
		{"wrap at 2^32", func(x []int64) []int64 {
			for i := range x {
				x[i] = (1<<32 - 300000 + 1000*int64(i)) % (1 << 32)
			}
			return x
		}, []float64{1 << 32}, false, func(r *counted) bool { return r.Wraps == 1 && r.Restarts == 0 && r.TNs[999] == 999e6 }},
		{"three samples lost at the wrap", func(x []int64) []int64 {
			for i := range x {
				x[i] = (1<<32 - 300000 + 1000*int64(i)) % (1 << 32)
			}
			return append(x[:300], x[303:]...)
		}, []float64{1 << 32}, false, func(r *counted) bool { return r.Wraps == 1 && r.Restarts == 0 && r.Lost == 3 }},
		{"restart a second before the wrap", func(x []int64) []int64 {
			for i := range x {
				x[i] = 1<<32 - 1300000 + 1000*int64(i)
				if i >= 300 {
					x[i] = 200000 + 1000*int64(i-300)
				}
			}
			return x
		}, []float64{1 << 32}, false, func(r *counted) bool { return r.Wraps == 0 && r.Restarts == 1 && r.TNs[300] == 300e6 }},
		{"wrap at 2^16", func(x []int64) []int64 {
			for i := range x {
				x[i] %= 1 << 16
			}
			return x
		}, []float64{1 << 16}, false, func(r *counted) bool {
			return r.Wraps == 15 && r.Restarts == 0 && r.Lost == 0 && r.TNs[999] == 999e6
		}},
		{"bursts of eight with one stamp", func(x []int64) []int64 {
			for i := range x {
				x[i] = x[i/8*8]
			}
			return x
		}, nil, false, func(r *counted) bool {
			return len(r.Damaged) == 0 && r.Restarts == 0 && r.Lost == 0 && math.Abs(float64(r.TNs[500])-500e6) < 1e5
		}},
	} {
		r, err := repairCounted(Stamps{Raw: c.change(even(1000)), PerSecond: 1e6, Moduli: c.moduli, Strict: c.strict})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !c.want(r) {
			n := len(r.TNs)
			t.Errorf("%s: damaged %v, lost %d, gaps %d, restarts %d, wraps %d, last at %d ns in segment %d, period %g, quantum %g", c.name, r.Damaged, r.Lost, r.Gaps, r.Restarts, r.Wraps, r.TNs[n-1], r.Segment[n-1], r.Period, r.Quantum)
		}
	}
}

// TestRepairClockDamage holds that losses are counted among damaged stamps, and
// that hardly a record is lost for its stamp.
func TestRepairClockDamage(t *testing.T) {
	for _, c := range []struct {
		rate, perSecond, jitter, loss, damage float64
	}{
		{1002, 1e6, 6e-6, 0.05, 0.02},
		{1000.4, 1e6, 1e-4, 0.02, 0.02},
		{6600, 1e6, 6e-6, 0.01, 0.01},
		{803.8, 1e3, 6e-6, 0.003, 0.02},
		{803.8, 1e3, 6e-6, 0.05, 0},
		{400.3, 1e3, 6e-6, 0.05, 0},
	} {
		for seed := range uint64(3) {
			k := makeClock(20000, c.rate, 0, c.perSecond, c.jitter, c.loss, 100000, seed)
			rnd := rand.New(rand.NewPCG(seed, 9))
			damaged := 0
			for i := range k.raw[:len(k.raw)-2] {
				if rnd.Float64() >= c.damage {
					continue
				}
				damaged++
				switch rnd.IntN(4) {
				case 0:
					k.raw[i] /= 10
				case 1:
					k.raw[i] ^= 1 << rnd.IntN(26)
				case 2:
					k.raw[i] = rnd.Int64N(1 << 32)
				case 3: // a digit dropped
					k.raw[i] = k.raw[i]/1000*100 + k.raw[i]%100
				}
			}
			r, err := repairCounted(k.stamps(c.perSecond))
			if err != nil {
				t.Fatal(err)
			}
			dropped, far := 0, 0
			for i := range k.raw {
				if !r.Keep[i] {
					dropped++
				} else if math.Abs(float64(r.TNs[i])/1e9-k.times[i]-(float64(r.TNs[5000])/1e9-k.times[5000])) > 0.5/c.rate {
					far++ // next to a loss a damaged stamp does not tell its side
				}
			}
			if r.Lost != int64(k.lost) || dropped > 0 || r.Restarts+r.Gaps > 0 || far*10 > damaged {
				t.Errorf("%+v, seed %d: lost %d of %d, %d of %d stamps found damaged, %d records dropped, %d restarts, %d gaps, %d times off", c, seed, r.Lost, k.lost, len(r.Damaged), damaged, dropped, r.Restarts, r.Gaps, far)
			}
		}
	}
}

func TestRepairClockRefuses(t *testing.T) {
	for name, raw := range map[string][]int64{
		"nothing": nil, "one": {1}, "constant": make([]int64, 500), "backwards": {9, 8, 7, 6, 5, 4, 3, 2, 1},
	} {
		if _, err := RepairClock(Stamps{Raw: raw, PerSecond: 1e6}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// TestRepairClockPrefix holds that a log cut short gives the same times.
func TestRepairClockPrefix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		perSecond := rapid.SampledFrom([]float64{1e6, 1e5, 1e3}).Draw(t, "perSecond")
		rate := rapid.SampledFrom([]float64{399.7, 803.77, 1603.1}).Draw(t, "rate")
		seed := rapid.Uint64().Draw(t, "seed")
		loss := 0.003
		if perSecond < rate {
			loss = 0 // stamps coarser than the period do not tell where a sample was lost
		}
		k := makeClock(12000, rate, 2e-6, perSecond, 6e-6, loss, 1000, seed)
		full, err := RepairClock(k.stamps(perSecond))
		if err != nil {
			t.Fatal(err)
		}
		n := rapid.IntRange(1500, len(k.raw)-1).Draw(t, "n")
		k.raw = k.raw[:n]
		cut, err := RepairClock(k.stamps(perSecond))
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			if d := math.Abs(float64(full.TNs[i] - cut.TNs[i])); d > 1e5 && (perSecond > 1e3 || d > 2e5) {
				t.Fatalf("sample %d of %d: %d ns whole, %d ns cut", i, n, full.TNs[i], cut.TNs[i])
			}
		}
	})
}

// FuzzRepairClock holds that any stamps give an error or increasing times.
func FuzzRepairClock(f *testing.F) {
	f.Add([]byte{1, 1, 1, 1, 1, 1, 1, 1, 200, 1, 1}, uint8(0), false)
	f.Add([]byte("the quick brown fox jumps over the lazy dog"), uint8(1), true)
	f.Fuzz(func(t *testing.T, steps []byte, kind uint8, strict bool) {
		var moduli []float64
		if kind&1 != 0 {
			moduli = []float64{65536}
		}
		raw := make([]int64, len(steps))
		at := int64(0)
		for i, s := range steps {
			switch {
			case s < 100:
				at += 900 + int64(s)*2
			case s < 200:
				at += int64(s-100) * 1000
			default:
				at = at*31 + int64(s)<<(s%40) // anything
			}
			raw[i] = at % 4e18 / 2
		}
		checkClock(t, Stamps{Raw: raw, PerSecond: 1e6, Moduli: moduli, Strict: strict})
	})
}

// counted is a report with its events counted.
type counted struct {
	*ClockReport
	Wraps, Restarts, Gaps int
	Lost                  int64
}

func repairCounted(s Stamps) (*counted, error) {
	r, err := RepairClock(s)
	if err != nil {
		return nil, err
	}
	c := &counted{ClockReport: r}
	for _, e := range r.Events {
		switch e.What {
		case Wrapped:
			c.Wraps++
		case Restarted:
			c.Restarts++
		case Missing:
			c.Lost += e.Lost
			if e.Lost > gapSamples {
				c.Gaps++
			}
		}
	}
	return c, nil
}

func checkClock(t *testing.T, s Stamps) {
	r, err := repairCounted(s)
	if err != nil {
		return
	}
	last, segment := int64(-1), int32(0)
	first := true
	for i := range s.Raw {
		if !r.Keep[i] {
			continue
		}
		if first && r.TNs[i] != 0 {
			t.Fatalf("first kept sample %d at %d ns", i, r.TNs[i])
		}
		if r.TNs[i] <= last && !first {
			t.Fatalf("sample %d at %d ns after %d", i, r.TNs[i], last)
		}
		if r.Segment[i] < segment || r.Segment[i] > segment+1 {
			t.Fatalf("sample %d in segment %d after %d", i, r.Segment[i], segment)
		}
		last, segment, first = r.TNs[i], r.Segment[i], false
	}
	for _, e := range r.Events {
		if e.What == Missing && e.Lost < 1 {
			t.Fatalf("record %d: %d samples lost", e.At, e.Lost)
		}
	}
	if int(segment) != r.Restarts+r.Gaps && !first {
		t.Fatalf("%d segments after %d restarts and %d gaps", segment+1, r.Restarts, r.Gaps)
	}
}
