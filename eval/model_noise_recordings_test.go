package eval_test

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/eval/bound"
	"strikerose/label"
)

// leftover is what a fit leaves of one strike in one plane and channel, over
// the kick, from the onset on.
type leftover struct {
	rateHz float64
	values []float64
}

// rms is the size of what is left between two times after the onset.
func (l leftover) rms(fromS, toS float64) float64 {
	sum, n := 0.0, 0.0
	for i, v := range l.values {
		if t := float64(i) / l.rateHz; t >= fromS && t < toS {
			sum, n = sum+v*v, n+1
		}
	}
	return math.Sqrt(sum / n)
}

// holdS is the time apart at which the correlation of what is left has fallen to
// 1/e.
func (l leftover) holdS() float64 {
	last := 1.0
	for apart := 1; apart < len(l.values); apart++ {
		var both, own float64
		for i, v := range l.values[apart:] {
			both += l.values[i] * v
			own += (l.values[i]*l.values[i] + v*v) / 2
		}
		now := both / own
		if now < 1/math.E {
			return (float64(apart) - (1/math.E-now)/(last-now)) / l.rateHz
		}
		last = now
	}
	return math.Inf(1)
}

// TestModelNoiseOnRecordings prints what bound.UsualModelNoise is taken from:
// what is left of straight strikes when the bound's model, with the true height,
// is fitted in both planes. Medians over strikes.
func TestModelNoiseOnRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	fmt.Printf("=== left by the model, per m/s of kick: m/s2 or rad/s, and how long it holds on\n%-4s%-20s%10s%12s%12s%10s\n",
		"rig", "", "0-15 ms", "30-80 ms", "80-200 ms", "hold ms")
	var acrossTurn []float64
	for _, folder := range []string{"A", "B0", "B1", "C"} {
		source := readRecordings(t, filepath.Join(dir, folder))
		d, err := eval.Examples(t.Context(), source, source.sessions[:1], eval.JoinOptions{TrainTruth: label.Timed, ScoreTruth: label.Timed})
		if err != nil {
			t.Fatal(err)
		}
		var left [4][]leftover
		for _, x := range d.Cases {
			if x.Score != nil && x.Score.Kind == "straight" && x.Window.Post() > int(0.2*x.Window.RateHz) && len(left[0]) < 30 {
				for k, l := range leftOf(t, x.Rig.Mechanics(), x.Window, x.Score.BearingDeg, x.Score.HeightM) {
					left[k] = append(left[k], l)
				}
			}
		}
		median := func(of []leftover, number func(leftover) float64) float64 {
			var all []float64
			for _, l := range of {
				all = append(all, number(l))
			}
			slices.Sort(all)
			return all[len(all)/2]
		}
		for k, name := range []string{"accelerometer along", "accelerometer across", "turn along", "turn across"} {
			early := median(left[k], func(l leftover) float64 { return l.rms(0.03, 0.08) })
			fmt.Printf("%-4s%-20s%10.3f%12.4f%12.4f%10.1f\n", folder, name,
				median(left[k], func(l leftover) float64 { return l.rms(0, 0.015) }), early,
				median(left[k], func(l leftover) float64 { return l.rms(0.08, 0.2) }), 1000*median(left[k], leftover.holdS))
			if k == 3 {
				acrossTurn = append(acrossTurn, early)
			}
		}
	}
	if least, most := slices.Min(acrossTurn), slices.Max(acrossTurn); bound.UsualModelNoise().Gyro < least/3 || bound.UsualModelNoise().Gyro > 3*most {
		t.Errorf("the usual model noise of turning, %g, is far from what is left across the push, %.3g to %.3g", bound.UsualModelNoise().Gyro, least, most)
	}
}

// leftOf fits strike, earlier swing and biases to a window, 100 ms before the
// onset to 200 ms after it, for the pulse length and onset that leave least
// along the push.
func leftOf(t *testing.T, m rig.Mechanics, w *dataset.Window, bearingDeg, heightM float64) [4]leftover {
	t.Helper()
	const accelSD, turnSD = 0.5, 0.005 // weights of the fit
	before, after := int(0.1*w.RateHz), int(0.2*w.RateHz)
	toward := -bearing.Unit(bearingDeg)
	n := before + after
	planes := mat.NewDense(2*n, 2, nil)
	for i := range n {
		k := w.Pre - before + i
		a := complex(w.A[1][k], w.A[0][k]) / toward
		g := complex(w.G[0][k], -w.G[1][k]) / toward // the turn that carries the bottom toward bearing 0, and 90
		for plane, v := range [][2]float64{{real(a), real(g)}, {imag(a), imag(g)}} {
			planes.Set(i, plane, v[0]/accelSD)
			planes.Set(n+i, plane, v[1]/turnSD)
		}
	}
	design := mat.NewDense(2*n, 7, nil)
	at := func(i int) float64 { return float64(i-before) / w.RateHz }
	for k, state := range []rig.Plane{{PivotM: 1}, {AngleRad: 1}, {PivotMPS: 1}, {TurnRadps: 1}} {
		free := m.Free(state)
		for i := range n {
			a, g := free.Reading(at(i), m.SensorM)
			design.Set(i, k, a/accelSD)
			design.Set(n+i, k, g/turnSD)
		}
	}
	for i := range n {
		design.Set(i, 4, 1)
		design.Set(n+i, 5, 1)
	}
	kick := m.Free(m.Struck(1, m.DepthM(heightM)))
	accelerance := m.Accelerance(m.DepthM(heightM), m.SensorM)
	best, bestSum, impulse := mat.NewDense(2*n, 2, nil), math.Inf(1), 0.0
	for contact := 0.008; contact < 0.0301; contact += 0.002 {
		for onset := -0.006; onset < 0.0061; onset += 0.001 {
			for i := range n {
				a, g := pulsed(kick, accelerance, at(i)-onset, contact, m.SensorM)
				design.Set(i, 6, a/accelSD)
				design.Set(n+i, 6, g/turnSD)
			}
			var solved, left mat.Dense
			if err := solved.Solve(design, planes); err != nil {
				t.Fatal(err)
			}
			left.Mul(design, &solved)
			left.Sub(planes, &left)
			if sum := mat.Norm(left.ColView(0), 2); sum < bestSum {
				best.Copy(&left)
				bestSum, impulse = sum, math.Hypot(solved.At(6, 0), solved.At(6, 1))
			}
		}
	}
	var out [4]leftover
	for k := range out {
		out[k].rateHz = w.RateHz
		from, scale := before+n*(k/2), []float64{accelSD, turnSD}[k/2]
		for i := range after {
			out[k].values = append(out[k].values, best.At(from+i, k%2)*scale*m.MassKg/impulse)
		}
	}
	return out
}

// pulsed is what the sensor reads of a half-sine pulse of 1 N s: the motion
// after a kick, summed over the pulse, and the force of the instant itself.
func pulsed(kick rig.Free, accelerance, tS, contactS, sensorM float64) (accel, turn float64) {
	const parts = 12
	w := math.Pi / contactS
	for k := range parts {
		u := (float64(k) + 0.5) / parts * contactS
		if since := tS - u; since > 0 {
			a, g := kick.Reading(since, sensorM)
			share := math.Cos(w*(u-contactS/(2*parts)))/2 - math.Cos(w*(u+contactS/(2*parts)))/2
			accel, turn = accel+share*a, turn+share*g
		}
	}
	if tS > 0 && tS < contactS {
		accel += accelerance * w / 2 * math.Sin(w*tS)
	}
	return accel, turn
}
