// Package signal holds filters and peak finding on plain slices.
package signal

// Section is a second-order section with leading denominator coefficient 1:
// y[n] = B0 x[n] + B1 x[n-1] + B2 x[n-2] - A1 y[n-1] - A2 y[n-2].
type Section struct{ B0, B1, B2, A1, A2 float64 }

// LowPass returns a Butterworth low-pass of some order.
func LowPass(order int, cutHz, rateHz float64) ([]Section, error) { return nil, nil }

// HighPass returns a Butterworth high-pass of some order.
func HighPass(order int, cutHz, rateHz float64) ([]Section, error) { return nil, nil }

// BandPass returns a Butterworth band-pass of twice some order.
func BandPass(order int, lowHz, highHz, rateHz float64) ([]Section, error) { return nil, nil }
