package ringdown

import (
	"math"
	"math/cmplx"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Stretch is the bag's free motion after one strike, at some fifty readings a
// second. Horizontal vectors are x + i y in the frame that the bag had at the
// stretch's start: it is turned back by what the gyroscope saw of the twist.
type Stretch struct {
	S     []float64    // seconds after the onset
	Force []complex128 // specific force, m/s2
	Tip   []complex128 // rate of the bag's tilt toward x + i y, rad/s; nil without a gyroscope
	Spin  []float64    // rate of turning about the vertical, rad/s; nil without a gyroscope
}

// Choices without source, tried on simulated recordings.
const (
	settleS   = 0.25 // after the onset: contact, and the bag's own flexing
	beforeS   = 0.04 // before the next onset: it is not known to the sample
	longestS  = 8.0  // later motion is mostly over
	shortestS = 1.2  // shorter stretches hardly tell a swing from a drift
	blockHz   = 50.0 // means are taken down to this rate
)

// Cut returns the stretches that follow the strikes of a signal, in order. No
// stretch crosses a segment's end. Onsets are in nanoseconds on the signal's
// clock, in order. The rig must be valid.
func Cut(sig *dataset.Signal, r *rig.Rig, onsetsNs []int64) []Stretch {
	accel, gyro := r.AccelTurn(), r.GyroTurn()
	hasGyro := r.HasGyro() && sig.HasGyro()
	spinBias := 0.0
	if hasGyro {
		spinBias = restingSpin(sig, gyro)
	}
	rows := max(1, int(math.Round(r.Sensor.RateHz/blockHz)))
	var out []Stretch
	for _, segment := range sig.Segments() {
		times := sig.TNs[segment.Start:segment.End]
		last := times[len(times)-1]
		i, _ := slices.BinarySearch(onsetsNs, times[0])
		for ; i < len(onsetsNs) && onsetsNs[i] <= last; i++ {
			onset := onsetsNs[i]
			until := onset + int64(longestS*1e9)
			if i+1 < len(onsetsNs) {
				until = min(until, onsetsNs[i+1]-int64(beforeS*1e9))
			}
			from, _ := slices.BinarySearch(times, onset+int64(settleS*1e9))
			to, _ := slices.BinarySearch(times, until)
			s := Stretch{}
			turned, before := 0.0, onset
			for j := segment.Start + from; j+rows <= segment.Start+to; j += rows {
				var f, q complex128
				var t, spin float64
				for k := j; k < j+rows; k++ {
					x := sig.At(k)
					t += float64(x.TNs-onset) / 1e9 / float64(rows)
					a := accel.Bag(x.A)
					f += complex(a[0], a[1])
					if hasGyro {
						w := gyro.Bag(x.G)
						q += complex(-w[1], w[0]) // i (wx + i wy)
						spin += w[2] - spinBias
					}
				}
				scale := complex(1/float64(rows), 0)
				if hasGyro {
					spin /= float64(rows)
					now := onset + int64(t*1e9)
					if len(s.S) > 0 {
						turned += (spin + s.Spin[len(s.Spin)-1]) / 2 * float64(now-before) / 1e9
					}
					before = now
					scale *= cmplx.Rect(1, turned)
					s.Tip = append(s.Tip, q*scale)
					s.Spin = append(s.Spin, spin)
				}
				s.S = append(s.S, t)
				s.Force = append(s.Force, f*scale)
			}
			if n := len(s.S); n > 0 && s.S[n-1]-s.S[0] >= shortestS {
				out = append(out, s)
			}
		}
	}
	return out
}

// restingSpin is the median reading about the vertical: the gyroscope's bias,
// since a bag turns both ways.
func restingSpin(sig *dataset.Signal, gyro rig.Turn) float64 {
	const most = 20000 // readings, evenly spread
	stride := max(1, sig.Len()/most)
	var spins []float64
	for i := 0; i < sig.Len(); i += stride {
		spins = append(spins, gyro.Bag(sig.At(i).G)[2])
	}
	slices.Sort(spins)
	return spins[len(spins)/2]
}
