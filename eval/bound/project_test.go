package bound

import (
	"math"
	"testing"

	"strikerose/dataset/datasettest"
)

// angle returns the columns, over the noise, of two channels A w cos and
// A w sin: by the angle in radians and by A.
func angle(theta, amplitude, sigmaX, sigmaY float64, w []float64) (byAngle, byAmplitude []float64) {
	sin, cos := math.Sincos(theta)
	for _, x := range w {
		byAngle = append(byAngle, -amplitude*x*sin/sigmaX, amplitude*x*cos/sigmaY)
		byAmplitude = append(byAmplitude, x*cos/sigmaX, x*sin/sigmaY)
	}
	return byAngle, byAmplitude
}

func TestLeastSDReference(t *testing.T) {
	var ref struct {
		Constant struct {
			A, N  float64
			Sigma float64 `json:"sigma_per_axis"`
			Want  float64 `json:"sigma_theta_rad"`
		} `json:"angle_crb_constant"`
		HalfSine struct {
			A, N  float64
			Sigma float64 `json:"sigma_per_axis"`
			Want  float64 `json:"sigma_theta_rad"`
		} `json:"angle_crb_half_sine"`
		Unequal struct {
			X    float64 `json:"sigma_x"`
			Y    float64 `json:"sigma_y"`
			A    float64
			Sum  float64 `json:"sum_w2"`
			Rows []struct {
				Theta   float64 `json:"theta_deg"`
				Unknown float64 `json:"sd_A_unknown_rad"`
				Known   float64 `json:"sd_A_known_rad"`
			}
		} `json:"angle_crb_unequal_noise"`
		Arrival struct {
			A, Sigma, FS float64
			T            float64 `json:"T_s"`
			Want         float64 `json:"sigma_tau_discrete_sum_s"`
		} `json:"toa_crb_gaussian"`
	}
	datasettest.Reference(t, "bounds.json", &ref)
	near := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-9*want) {
			t.Errorf("%s: %.12g, want %.12g", what, got, want)
		}
	}
	ones := make([]float64, int(ref.Constant.N))
	for i := range ones {
		ones[i] = 1
	}
	byAngle, byAmplitude := angle(0.3, ref.Constant.A, ref.Constant.Sigma, ref.Constant.Sigma, ones)
	near("angle of a constant", leastSD(byAngle, [][]float64{byAmplitude}), ref.Constant.Want)

	sine := make([]float64, int(ref.HalfSine.N))
	for i := range sine {
		sine[i] = math.Sin(math.Pi * (float64(i) + 0.5) / ref.HalfSine.N)
	}
	byAngle, byAmplitude = angle(0.3, ref.HalfSine.A, ref.HalfSine.Sigma, ref.HalfSine.Sigma, sine)
	near("angle of a half sine", leastSD(byAngle, nil), ref.HalfSine.Want)
	near("angle of a half sine of unknown size", leastSD(byAngle, [][]float64{byAmplitude}), ref.HalfSine.Want)

	for _, r := range ref.Unequal.Rows {
		byAngle, byAmplitude = angle(r.Theta*math.Pi/180, ref.Unequal.A, ref.Unequal.X, ref.Unequal.Y, []float64{math.Sqrt(ref.Unequal.Sum)})
		near("angle in unequal noise, size known", leastSD(byAngle, nil), r.Known)
		near("angle in unequal noise, size unknown", leastSD(byAngle, [][]float64{byAmplitude}), r.Unknown)
	}

	var slope []float64
	for i := -100; i <= 100; i++ {
		x := float64(i) / ref.Arrival.FS
		slope = append(slope, ref.Arrival.A*x/(ref.Arrival.T*ref.Arrival.T)*math.Exp(-x*x/(2*ref.Arrival.T*ref.Arrival.T))/ref.Arrival.Sigma)
	}
	near("time of arrival", leastSD(slope, nil), ref.Arrival.Want)
}

func TestLeastSDCannotTell(t *testing.T) {
	for name, c := range map[string]struct {
		wanted []float64
		others [][]float64
	}{
		"no effect":             {[]float64{0, 0, 0}, nil},
		"same effect":           {[]float64{1, 2, 3}, [][]float64{{1, 2, 3}}},
		"sum of others":         {[]float64{1, 1, 0}, [][]float64{{1, 0, 0}, {0, 1, 0}}},
		"more others than rows": {[]float64{1, 5, 2}, [][]float64{{1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {2, 1, 1}}},
	} {
		if got := leastSD(c.wanted, c.others); !math.IsInf(got, 1) {
			t.Errorf("%s: %g, want +Inf", name, got)
		}
	}
	// Others that cannot be told from each other do no more harm than one.
	if got := leastSD([]float64{0, 2}, [][]float64{{1, 1}, {1, 1}, {2, 2}}); !datasettest.Near(got, 1/math.Sqrt2, 1e-12) {
		t.Errorf("twice the same nuisance: %g, want %g", got, 1/math.Sqrt2)
	}
}
