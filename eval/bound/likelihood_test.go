package bound

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"strikerose/dataset/datasettest"
)

// guess is where the fit stands: depth, pulse length and onset, on which the
// readings do not depend linearly.
type guess struct{ depthM, contactS, onsetS float64 }

// strikeAt returns the column of a strike of unit impulse, and its derivatives
// by depth, pulse length and onset.
func (w *window) strikeAt(g guess) (column []float64, by [3][]float64) {
	column = make([]float64, w.rows())
	for k := range by {
		by[k] = make([]float64, w.rows())
	}
	for _, mode := range w.plane.shapes {
		o := newOscillator(mode)
		var byContact, byOnset []float64
		answer := w.fill(func(at float64) (float64, float64) {
			s, d := o.pulsed(at-g.onsetS, g.contactS)
			a, r := read(w.mechanics, mode, d.a, d.a1, d.a2)
			byContact = append(byContact, a, r)
			a, r = read(w.mechanics, mode, -s.a1, -s.a2, -s.a3)
			byOnset = append(byOnset, a, r)
			return read(w.mechanics, mode, s.a, s.a1, s.a2)
		})
		pick := func(from []float64) []float64 {
			i := -2
			return w.fill(func(float64) (float64, float64) { i += 2; return from[i], from[i+1] })
		}
		floats.AddScaled(column, mode.At(g.depthM), answer)
		floats.AddScaled(by[0], mode.AngleShape, answer)
		floats.AddScaled(by[1], mode.At(g.depthM), pick(byContact))
		floats.AddScaled(by[2], mode.At(g.depthM), pick(byOnset))
	}
	return column, by
}

// split takes an orthonormal basis' part off complex readings.
func split(x, y []float64, basis [][]float64) (restX, restY []float64) {
	restX, _ = rest(x, basis)
	restY, _ = rest(y, basis)
	return restX, restY
}

// fitStrike is the maximum of the likelihood of readings x and y in the two
// planes: Gauss-Newton over what is not linear, with all that is linear
// (impulse with its direction, earlier swing, biases) projected out
// (variable projection, Kaufman 1975). It returns the impulse as a complex
// number whose angle is the direction of the push, and the depth.
func fitStrike(t *testing.T, w *window, x, y []float64, common [][]float64, from guess, settledM float64) (impulse complex128, depthM float64) {
	g := from
	for range 20 {
		column, by := w.strikeAt(g)
		free, ok := rest(column, common)
		if !ok {
			t.Fatal("the strike cannot be told from the earlier swing")
		}
		size := floats.Dot(free, free)
		impulse = complex(floats.Dot(free, x)/size, floats.Dot(free, y)/size)
		unit := append([]float64(nil), free...)
		floats.Scale(1/math.Sqrt(size), unit)
		basis := append(append([][]float64{}, common...), unit)
		leftX, leftY := split(x, y, basis)
		var design [3][]float64
		for k := range by {
			d, _ := rest(by[k], basis)
			design[k] = make([]float64, 2*len(d))
			floats.AddScaled(design[k][:len(d)], real(impulse), d)
			floats.AddScaled(design[k][len(d):], imag(impulse), d)
		}
		left := append(leftX, leftY...)
		normal, right := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
		var size3 [3]float64
		for i := range design {
			size3[i] = floats.Norm(design[i], 2)
		}
		for i := range design {
			right.SetVec(i, floats.Dot(design[i], left)/size3[i])
			for k := range i + 1 {
				normal.SetSym(i, k, floats.Dot(design[i], design[k])/(size3[i]*size3[k]))
			}
		}
		var step mat.VecDense
		if err := step.SolveVec(normal, right); err != nil {
			t.Fatal(err)
		}
		g.depthM += step.AtVec(0) / size3[0]
		g.contactS += step.AtVec(1) / size3[1]
		g.onsetS += step.AtVec(2) / size3[2]
		if math.Abs(step.AtVec(0)/size3[0]) < settledM {
			return impulse, g.depthM
		}
	}
	t.Fatalf("the fit did not settle: %+v", g)
	return 0, 0
}

// TestLikelihoodReachesBound draws readings with noise, an earlier swing and
// biases, fits them by maximum likelihood, and finds the spread of bearing and
// height to be what the bound says. With 800 draws the spread itself is off by
// 2.5 % (one standard error), so that 10 % is four of them.
func TestLikelihoodReachesBound(t *testing.T) {
	const draws, tolerance = 800, 0.10
	const bearingDeg, height = 40.0, 0.7
	for name, gyro := range map[string]bool{"with gyroscope": true, "accelerometer only": false} {
		t.Run(name, func(t *testing.T) {
			r := datasettest.Rig(t)
			r.Sensor.RateHz, r.Sensor.AccelNoiseMPS2 = 400, 0.01
			w := windowOf(t, Setting{Rig: r, Gyro: gyro, GyroNoiseRadps: 0.001})
			want := w.along([]float64{height})[0]
			// A half sine has a corner at its onset: the sample there is kept just before it.
			truth := guess{depthM: w.mechanics.DepthM(height), contactS: w.setting.ContactS, onsetS: 2e-5}
			strike, _ := w.strikeAt(truth)
			push := cmplx.Rect(w.setting.ImpulseNs, bearingDeg*math.Pi/180)
			cleanX, cleanY := make([]float64, w.rows()), make([]float64, w.rows())
			floats.AddScaled(cleanX, real(push), strike)
			floats.AddScaled(cleanY, imag(push), strike)
			random := rand.New(rand.NewPCG(7, 11))
			var common [][]float64
			for _, c := range w.common {
				floats.AddScaled(cleanX, 0.2*random.NormFloat64(), c)
				floats.AddScaled(cleanY, 0.2*random.NormFloat64(), c)
				if left, ok := rest(c, common); ok {
					floats.Scale(1/floats.Norm(left, 2), left)
					common = append(common, left)
				}
			}
			var bearing, depth moments
			for range draws {
				x, y := append([]float64(nil), cleanX...), append([]float64(nil), cleanY...)
				for i := range x {
					x[i] += random.NormFloat64()
					y[i] += random.NormFloat64()
				}
				impulse, d := fitStrike(t, w, x, y, common, truth, want.HeightSDM/1000)
				bearing.add(cmplx.Phase(impulse/push) * 180 / math.Pi)
				depth.add(d - truth.depthM)
			}
			for _, c := range []struct {
				name  string
				found moments
				bound float64
			}{{"bearing_deg", bearing, want.BearingSDDeg}, {"height_m", depth, want.HeightSDM}} {
				if ratio := c.found.sd() / c.bound; !(math.Abs(ratio-1) <= tolerance) {
					t.Errorf("%s: sd %g of the fits is %.3f of the bound %g", c.name, c.found.sd(), ratio, c.bound)
				} else {
					t.Logf("%s: sd %.4g of %d fits is %.3f of the bound %.4g", c.name, c.found.sd(), draws, ratio, c.bound)
				}
				if bias := c.found.mean(); math.Abs(bias) > 4*c.bound/math.Sqrt(draws) {
					t.Errorf("%s: the fits are biased by %g", c.name, bias)
				}
			}
		})
	}
}

// moments gathers the mean and spread of numbers.
type moments struct{ n, sum, squares float64 }

func (m *moments) add(x float64) { m.n++; m.sum += x; m.squares += x * x }
func (m moments) mean() float64  { return m.sum / m.n }
func (m moments) sd() float64    { return math.Sqrt(m.squares/m.n - m.mean()*m.mean()) }
