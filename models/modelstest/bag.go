package modelstest

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
)

// Blow is one strike of a simulated evening.
type Blow struct {
	AtS        float64 // start of contact
	BearingDeg float64
	HeightM    float64
	ImpulseNs  float64
	PastDeg    float64 // how far the push passes the bag's axis, as the bearing that it seems to come from falls short of BearingDeg
}

// Rig is a bag of 35 kg with the sensor near its top, where the kick of low
// strikes points the wrong way.
func Rig(gyro bool) *rig.Rig {
	r := &rig.Rig{
		Name: "simulated", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.35}, {Name: "mid", ToM: 0.65}, {Name: "high"}},
		Bag:   rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35},
		Core:  &rig.Core{MassKg: 19, LengthM: 0.7, DiameterM: 0.14, TopDepthM: 0.15},
		Hang:  rig.Hang{ChainM: 0.48, StrapM: 0.08},
		Sensor: rig.Sensor{
			DepthM: 0.2, RateHz: 500, AccelRangeG: 32, AccelNoiseMPS2: 0.05,
			Axes: rig.Axes{X: "90", Y: "0", Z: "up"},
		},
	}
	if gyro {
		r.Sensor.GyroRangeDPS = 2000
	} else {
		r.Name = "simulated-accelerometer"
	}
	return r
}

// Evening simulates a session of n strikes on a stiff bag: a double pendulum
// for small angles in each vertical plane, twist about the axis, white noise. It
// is a plain model for tests of the machinery, no measure of any detector.
func Evening(r *rig.Rig, n int, seed uint64) (*dataset.Signal, []Blow) {
	rng := rand.New(rand.NewPCG(seed, 2))
	var blows []Blow
	at := 2.0
	for range n {
		b := Blow{
			AtS: at, BearingDeg: rng.Float64() * 360, HeightM: 0.12 + 0.76*rng.Float64(),
			ImpulseNs: 15 + 20*rng.Float64(), PastDeg: 8 * rng.NormFloat64(),
		}
		b.HeightM *= r.Bag.LengthM
		blows = append(blows, b)
		at += 1.6 + rng.Float64()
	}
	return simulate(r, blows, at, rng), blows
}

// simulate integrates the motion in steps of a quarter of a sample.
func simulate(r *rig.Rig, blows []Blow, endS float64, rng *rand.Rand) *dataset.Signal {
	const (
		g          = dataset.StandardGravity
		contactS   = 0.02
		gyroNoise  = 0.002
		swingFade  = 0.3 // 1/s
		rockFade   = 1.5 // 1/s
		twistFade  = 3.0 // 1/s
		twistSpeed = 6.9 // rad/s
		inner      = 4
	)
	in := r.Inertia()
	c, s := in.CentreOfMassDepthM+r.Hang.StrapM, r.Sensor.DepthM+r.Hang.StrapM
	k2 := in.RadiusOfGyrationM * in.RadiusOfGyrationM
	dt := 1 / r.Sensor.RateHz / inner
	samples := int(endS * r.Sensor.RateHz)
	sig := &dataset.Signal{TNs: make([]int64, samples), TRaw: make([]int64, samples), Segment: make([]int32, samples)}
	for k := range 3 {
		sig.A[k] = make([]float32, samples)
		if r.HasGyro() {
			sig.G[k] = make([]float32, samples)
		}
	}
	var y, vy, q, vq, ay, aq complex128
	var spin, turn float64
	next := 0
	for i := range samples {
		var f complex128
		for range inner {
			t := float64(i)/r.Sensor.RateHz + dt
			for next < len(blows) && t > blows[next].AtS+contactS {
				next++
			}
			var push, lever complex128
			var torque float64
			if next < len(blows) && t >= blows[next].AtS {
				b := blows[next]
				shape := math.Sin(math.Pi*(t-b.AtS)/contactS) * math.Pi / 2 / contactS
				past := bearing.Rad(b.PastDeg)
				push = -complex(b.ImpulseNs*shape/r.Bag.MassKg, 0) * bearing.Unit(b.BearingDeg-b.PastDeg)
				lever = push * complex(r.Bag.LengthM-b.HeightM+r.Hang.StrapM, 0)
				torque = -r.Bag.DiameterM / 2 * b.ImpulseNs * shape * math.Sin(past) / in.TwistKgM2
			}
			b1 := push - complex(g/r.Hang.ChainM, 0)*y - complex(swingFade, 0)*vy
			b2 := lever - complex(g*c, 0)*q - complex(rockFade*k2, 0)*vq
			ay = (complex(c*c+k2, 0)*b1 - complex(c, 0)*b2) / complex(k2, 0)
			aq = (b2 - complex(c, 0)*b1) / complex(k2, 0)
			vy += ay * complex(dt, 0)
			vq += aq * complex(dt, 0)
			y += vy * complex(dt, 0)
			q += vq * complex(dt, 0)
			spin += (torque - twistFade*spin - twistSpeed*twistSpeed*turn) * dt
			turn += spin * dt
			f += (ay + complex(s, 0)*aq + complex(g, 0)*q) / inner
		}
		noise := func(sd float64) float64 { return sd * rng.NormFloat64() }
		sig.TNs[i] = int64(float64(i) / r.Sensor.RateHz * 1e9)
		sig.TRaw[i] = sig.TNs[i] / 1000
		sig.A[0][i] = float32(imag(f) + noise(0.05))
		sig.A[1][i] = float32(real(f) + noise(0.05))
		sig.A[2][i] = float32(g + noise(0.05))
		if r.HasGyro() {
			sig.G[0][i] = float32(real(vq) + noise(gyroNoise))
			sig.G[1][i] = float32(-imag(vq) + noise(gyroNoise))
			sig.G[2][i] = float32(spin + noise(gyroNoise))
		}
	}
	return sig
}

// Turned returns the recording as it would be had the bag been struck from
// bearings larger by deg: every horizontal reading turned clockwise.
func Turned(sig *dataset.Signal, deg float64) *dataset.Signal {
	out := *sig
	u := bearing.Unit(deg)
	turn := func(v [3][]float32) [3][]float32 {
		if v[0] == nil {
			return v
		}
		x, y := make([]float32, len(v[0])), make([]float32, len(v[0]))
		for i := range x {
			z := complex(float64(v[1][i]), float64(v[0][i])) * u
			x[i], y[i] = float32(imag(z)), float32(real(z))
		}
		return [3][]float32{x, y, v[2]}
	}
	out.A, out.G = turn(sig.A), turn(sig.G)
	return &out
}

// TurnedWindow does the same to a window.
func TurnedWindow(w *dataset.Window, deg float64) *dataset.Window {
	out := *w
	u := bearing.Unit(deg)
	turn := func(v [3][]float64) [3][]float64 {
		if v[0] == nil {
			return v
		}
		x, y := make([]float64, len(v[0])), make([]float64, len(v[0]))
		for i := range x {
			z := complex(v[1][i], v[0][i]) * u
			x[i], y[i] = imag(z), real(z)
		}
		return [3][]float64{x, y, v[2]}
	}
	out.A, out.G = turn(w.A), turn(w.G)
	return &out
}

// Examples finds the strikes of a simulated evening and joins them with what
// was simulated. A strike that was not found is left out.
func Examples(t testing.TB, r *rig.Rig, session string, n int, seed uint64) []models.Example {
	t.Helper()
	sig, blows := Evening(r, n, seed)
	pre, post := features.Longest()
	windows, err := chain.Run(t.Context(), r, sig, chain.Options{PreMs: pre, PostMs: post})
	if err != nil {
		t.Fatal(err)
	}
	var out []models.Example
	for _, b := range blows {
		i := sort.Search(len(windows), func(i int) bool { return windows[i].Strike.OnsetNs > int64((b.AtS-0.03)*1e9) })
		if i == len(windows) || windows[i].Strike.OnsetNs > int64((b.AtS+0.03)*1e9) {
			continue
		}
		out = append(out, models.Example{
			Input:   models.InputOf(windows[i], r),
			Session: session, Striker: "s" + session,
			BearingDeg: b.BearingDeg, HeightM: b.HeightM,
		})
	}
	if 4*len(out) < 3*n {
		t.Fatalf("found %d of %d simulated strikes", len(out), n)
	}
	return out
}
