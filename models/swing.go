package models

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"strikerose/dataset"
	"strikerose/features"
)

// What a bag on a chain answers to a blow follows from its rig file alone. In
// each vertical plane it is a double pendulum: a stiff bag of mass m below a
// light chain. With y the displacement of the lower pivot, q the bag's angle
// (its bottom toward +), c and d the depths of the centre of mass and of the
// blow below that pivot, l the chain, k the radius of gyration about the centre
// of mass and F the force (Lagrange's equations for small angles, textbook
// mechanics):
//
//	y'' + c q'' + g y / l        = F/m
//	c y'' + (c^2 + k^2) q'' + g c q = d F/m
//
// A sensor at depth s reads f = y'' + s q'' + g q and q'. All is linear in the
// swing before the blow (y, y', q, q' at the onset), in A = J/m and in B = d J/m
// with J the impulse. Weighted least squares on the features then gives A and
// B as fixed weighted sums of features: the rig's own weights.
//
// During contact only integrals of the accelerometer are used, in which the
// pulse's shape and the bag's bending cancel.

// Terms of the least squares, round numbers.
const (
	pulseMs        = 22.0 // contact, the shape t^1.6 (T-t)^3.7
	typicalKickMPS = 0.7  // 25 N s on 35 kg: sets how model errors compare with noise
	beforeNoise    = 0.15 // m/s2, readings before the onset: bending and bias
	earlierNoise   = 0.3  // the same further back
	integralShare  = 0.01 // of the kick
	rateNoiseRadps = 0.01 // rotation rate, at rest
	rateShare      = 0.04 // of the kick, rad/s per m/s, while the core rings
	rateDecayMs    = 50.0 // how long it rings
	swingStepS     = 0.5e-3
	swingBackS     = 0.0625
	swingAheadS    = 0.0520
)

// ownVectors are the vector features with weights of a rig's own.
func ownVectors() []string {
	return []string{
		"kick", "tip",
		"accel_m1_4", "accel_4_8", "accel_8_12", "accel_12_18", "accel_18_25",
		"rock_25_35", "rock_35_50",
		"accel_before", "rock_before", "accel_60_25_before", "rock_60_25_before",
	}
}

// ownWeights are real weights of ownVectors: push gives the change of the
// centre of mass's velocity times its share (J/m, against the bearing), lever
// gives that times the height of the blow above the centre of mass.
type ownWeights struct{ push, lever []float64 }

// stretch is where a feature reads, ms after the onset.
type stretch struct{ fromMs, toMs float64 }

var contactStretches = [5]stretch{{-1, 4}, {4, 8}, {8, 12}, {12, 18}, {18, 25}}

// newOwnWeights computes a rig's own weights of some of ownVectors and earlyRock:
// what the others measured is left out of the least squares.
func newOwnWeights(c Constants, names []string) ownWeights {
	const unknowns = 7 // y, y', q, q' at the onset, A, B, bias of the accelerometer
	at := make(map[string]int, len(names))
	for i, n := range names {
		at[n] = i
	}
	type row struct {
		main  string             // without this feature nothing was measured
		parts map[string]float64 // of which features the measured number is made
		sd    float64
	}
	integral := map[string]float64{}
	var contactS float64
	for i, s := range contactStretches {
		name := ownVectors()[2+i]
		if _, read := at[name]; !read {
			break // cut off within the contact
		}
		integral[name] = (s.toMs - s.fromMs) / 1000
		contactS += (s.toMs - s.fromMs) / 1000
	}
	integral["accel_before"] = contactS
	rateSD := func(ms float64) float64 {
		return rateNoiseRadps + rateShare*typicalKickMPS*math.Exp(-ms/rateDecayMs)
	}
	rows := []row{
		{"accel_before", map[string]float64{"accel_before": 1}, beforeNoise},
		{"accel_60_25_before", map[string]float64{"accel_before": 1, "accel_60_25_before": 1}, earlierNoise},
		{"rock_before", map[string]float64{"rock_before": 1}, rateNoiseRadps},
		{"rock_60_25_before", map[string]float64{"rock_before": 1, "rock_60_25_before": 1}, 2 * rateNoiseRadps},
		{"kick", map[string]float64{"kick": 1}, integralShare * typicalKickMPS},
		{ownVectors()[2], integral, integralShare * typicalKickMPS},
		{"tip", map[string]float64{"rock_before": 1, "tip": 1}, rateSD(26)},
		{"rock_25_35", map[string]float64{"rock_before": 1, "rock_25_35": 1}, rateSD(30)},
		{"rock_35_50", map[string]float64{"rock_before": 1, "rock_35_50": 1}, rateSD(42.5)},
	}
	for _, n := range earlyRock() {
		d := features.DefOf(n)
		rows = append(rows, row{n, map[string]float64{"rock_before": 1, n: 1}, rateSD(d.ToMs)})
	}
	rows = slices.DeleteFunc(rows, func(r row) bool { _, read := at[r.main]; return !read })
	var response [unknowns]map[string]float64
	for j := range response {
		response[j] = swingResponse(c, j)
	}
	design := mat.NewDense(len(rows), unknowns, nil)
	for i, r := range rows {
		for j := range unknowns {
			var sum float64
			for _, n := range names { // in order: sums must not depend on a map's
				sum += r.parts[n] * response[j][n]
			}
			design.Set(i, j, sum/r.sd)
		}
	}
	normal := mat.NewSymDense(unknowns, nil)
	prior := [unknowns]float64{0.3, 1, 0.5, 2, 1, 1, beforeNoise} // what a bag can do at all
	for a := range unknowns {
		for b := a; b < unknowns; b++ {
			var sum float64
			for i := range rows {
				sum += design.At(i, a) * design.At(i, b)
			}
			if a == b {
				sum += 1 / (prior[a] * prior[a])
			}
			normal.SetSym(a, b, sum)
		}
	}
	var chol mat.Cholesky
	chol.Factorize(normal) // positive definite by the prior
	w := ownWeights{push: make([]float64, len(names)), lever: make([]float64, len(names))}
	pivotToCentreM := c.CentreOfMassDepthM + c.StrapM
	for i, r := range rows {
		right := mat.NewVecDense(unknowns, nil)
		for j := range unknowns {
			right.SetVec(j, design.At(i, j)/r.sd)
		}
		var x mat.VecDense
		if err := chol.SolveVecTo(&x, right); err != nil {
			continue // badly conditioned only for constants that check refuses
		}
		a, b := x.AtVec(4), x.AtVec(5)
		for n, part := range r.parts {
			k, read := at[n]
			if !read {
				continue
			}
			w.push[k] += -a * part // against the push lies the bearing
			w.lever[k] += -(pivotToCentreM*a - b) * part
		}
	}
	return w
}

// swingResponse gives what each feature of ownVectors and earlyRock reads when one unknown
// is 1 and the others are 0.
func swingResponse(c Constants, unknown int) map[string]float64 {
	f, q := swingReadings(c, unknown)
	mean := func(x []float64, fromMs, toMs float64) float64 {
		from := int(math.Round((fromMs/1000 + swingBackS) / swingStepS))
		to := int(math.Round((toMs/1000 + swingBackS) / swingStepS))
		var sum float64
		for i := from; i < to; i++ {
			sum += (x[i] + x[i+1]) / 2
		}
		return sum / float64(to-from)
	}
	beforeF, beforeQ := mean(f, -25, -5), mean(q, -25, -5)
	// Rock features are the motion of points above: against q'.
	out := map[string]float64{
		"kick":               mean(f, -3, 22) * 0.025,
		"tip":                beforeQ - mean(q, 20, 32),
		"rock_25_35":         beforeQ - mean(q, 25, 35),
		"rock_35_50":         beforeQ - mean(q, 35, 50),
		"accel_before":       beforeF,
		"rock_before":        -beforeQ,
		"accel_60_25_before": mean(f, -60, -25) - beforeF,
		"rock_60_25_before":  beforeQ - mean(q, -60, -25),
		"rock_8_12":          beforeQ - mean(q, 8, 12),
		"rock_12_18":         beforeQ - mean(q, 12, 18),
		"rock_18_25":         beforeQ - mean(q, 18, 25),
	}
	for i, s := range contactStretches {
		out[ownVectors()[2+i]] = mean(f, s.fromMs, s.toMs) - beforeF
	}
	return out
}

// swingReadings integrates the bag's motion (classical Runge-Kutta of fourth
// order) from the onset backward and forward and returns the accelerometer's
// and the gyroscope's reading on a grid of swingStepS that starts swingBackS
// before the onset.
func swingReadings(c Constants, unknown int) (f, q []float64) {
	back, ahead := int(math.Round(swingBackS/swingStepS)), int(math.Round(swingAheadS/swingStepS))
	f, q = make([]float64, back+ahead+1), make([]float64, back+ahead+1)
	if unknown == 6 { // bias of the accelerometer: no motion
		for i := range f {
			f[i] = 1
		}
		return f, q
	}
	toCentreM, toSensorM := c.CentreOfMassDepthM+c.StrapM, c.SensorDepthM+c.StrapM
	chainM := math.Max(c.ChainM, 0.05) // a bag bolted to its swivel still gives
	k2 := c.RadiusOfGyrationM * c.RadiusOfGyrationM
	const g = dataset.StandardGravity
	norm := pulseNorm()
	acceleration := func(x [4]float64, t float64) (y, turn float64) {
		b1, b2 := -g*x[0]/chainM, -g*toCentreM*x[2]
		switch unknown {
		case 4:
			b1 += pulseAt(t) / norm
		case 5:
			b2 += pulseAt(t) / norm
		}
		return ((toCentreM*toCentreM+k2)*b1 - toCentreM*b2) / k2, (b2 - toCentreM*b1) / k2
	}
	slope := func(x [4]float64, t float64) [4]float64 {
		y, turn := acceleration(x, t)
		return [4]float64{x[1], y, x[3], turn}
	}
	ahead4 := func(x, d [4]float64, h float64) [4]float64 {
		for i := range x {
			x[i] += h * d[i]
		}
		return x
	}
	step := func(x [4]float64, t, h float64) [4]float64 {
		k1 := slope(x, t)
		k2 := slope(ahead4(x, k1, h/2), t+h/2)
		k3 := slope(ahead4(x, k2, h/2), t+h/2)
		k4 := slope(ahead4(x, k3, h), t+h)
		for i := range x {
			x[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
		}
		return x
	}
	var start [4]float64
	if unknown < 4 {
		start[unknown] = 1
	}
	put := func(i int, x [4]float64, t float64) {
		y, turn := acceleration(x, t)
		f[i] = y + toSensorM*turn + g*x[2]
		q[i] = x[3]
	}
	put(back, start, 0)
	x := start
	for i := range ahead {
		x = step(x, float64(i)*swingStepS, swingStepS)
		put(back+i+1, x, float64(i+1)*swingStepS)
	}
	x = start
	for i := range back {
		x = step(x, -float64(i)*swingStepS, -swingStepS)
		put(back-i-1, x, -float64(i+1)*swingStepS)
	}
	return f, q
}

// pulseAt is the push's shape, t in seconds after the onset.
func pulseAt(t float64) float64 {
	ms := t * 1000
	if ms <= 0 || ms >= pulseMs {
		return 0
	}
	return math.Pow(ms, 1.6) * math.Pow(pulseMs-ms, 3.7)
}

// pulseNorm is the shape's integral over seconds.
func pulseNorm() float64 {
	const n = 220
	var sum float64
	for i := range n {
		sum += pulseAt((float64(i) + 0.5) * pulseMs / n / 1000)
	}
	return sum * pulseMs / n / 1000
}

// pulseShare is how much of the push has come by the time that a feature of the
// rotation reads, on the mean: 1 after the contact.
func pulseShare(name string) float64 {
	early := map[string]stretch{"spin_8_12": {8, 12}, "spin_12_18": {12, 18}, "spin_18_25": {18, 25}}
	s, within := early[name]
	if !within {
		return 1
	}
	const n = 200
	stepS := s.toMs / 1000 / n
	var come, sum float64
	count := 0
	for i := range n {
		come += pulseAt((float64(i)+0.5)*stepS) * stepS
		if 1000*stepS*float64(i+1) > s.fromMs {
			sum += come
			count++
		}
	}
	return sum / float64(count) / pulseNorm()
}
