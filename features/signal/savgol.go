package signal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// SavGolWeights returns the weights, oldest sample first, whose sum of
// products with a window of samples is the value at the window's middle of the
// polynomial fitted to it by least squares, or one of its derivatives for a
// sample spacing of 1 (Savitzky & Golay 1964, Analytical Chemistry 36:1627).
// The window must be odd and larger than the degree. For a rate in Hz multiply
// a derivative by the rate as often as it is derived.
func SavGolWeights(window, degree, derivative int) ([]float64, error) {
	fit, err := newFit(window, degree, derivative)
	if err != nil {
		return nil, err
	}
	return fit.weights(0), nil
}

// SavGol smooths or differentiates x with SavGolWeights. The first and last
// half window take the polynomials fitted to the first and last window. It
// returns a new slice; x has to be at least as long as the window.
func SavGol(x []float64, window, degree, derivative int) ([]float64, error) {
	fit, err := newFit(window, degree, derivative)
	if err != nil {
		return nil, err
	}
	if len(x) < window {
		return nil, fmt.Errorf("savitzky-golay: %d samples for a window of %d: use a window no longer than the signal", len(x), window)
	}
	out := make([]float64, len(x))
	half := window / 2
	middle := fit.weights(0)
	for i := range out {
		start := min(max(i-half, 0), len(x)-window)
		w := middle
		if at := i - half - start; at != 0 {
			w = fit.weights(float64(at))
		}
		for j, v := range x[start : start+window] {
			out[i] += w[j] * v
		}
	}
	return out, nil
}

// polyFit turns a window of samples into a polynomial's coefficients.
type polyFit struct {
	half       float64
	derivative int
	inverse    mat.Dense // row j: weights of the coefficient of (position/half)^j
}

func newFit(window, degree, derivative int) (*polyFit, error) {
	switch {
	case window < 3 || window%2 == 0:
		return nil, fmt.Errorf("savitzky-golay: window of %d samples: use an odd number from 3", window)
	case degree < 0 || degree >= window:
		return nil, fmt.Errorf("savitzky-golay: degree %d in a window of %d samples: use 0 to %d", degree, window, window-1)
	case derivative < 0 || derivative > degree:
		return nil, fmt.Errorf("savitzky-golay: derivative %d of a polynomial of degree %d: use 0 to %d", derivative, degree, degree)
	}
	f := &polyFit{half: float64(window / 2), derivative: derivative}
	powers := mat.NewDense(window, degree+1, nil)
	unit := mat.NewDense(window, window, nil)
	for i := range window {
		for j := range degree + 1 {
			powers.Set(i, j, math.Pow(float64(i)/f.half-1, float64(j)))
		}
		unit.Set(i, i, 1)
	}
	var qr mat.QR
	qr.Factorize(powers)
	if err := qr.SolveTo(&f.inverse, false, unit); err != nil {
		return nil, fmt.Errorf("savitzky-golay: window %d, degree %d: %w: use a lower degree", window, degree, err)
	}
	return f, nil
}

// weights evaluates the derivative at a position from the window's middle.
func (f *polyFit) weights(at float64) []float64 {
	rows, cols := f.inverse.Dims()
	w := make([]float64, cols)
	for j := f.derivative; j < rows; j++ {
		scale := math.Pow(at/f.half, float64(j-f.derivative)) / math.Pow(f.half, float64(f.derivative))
		for k := range f.derivative {
			scale *= float64(j - k)
		}
		for i := range w {
			w[i] += scale * f.inverse.At(j, i)
		}
	}
	return w
}
