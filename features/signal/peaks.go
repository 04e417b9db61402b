package signal

// PeakRules says which peaks count.
type PeakRules struct {
	MinHeight, MinThreshold, MinProminence, MinWidth *float64
	MinDistance, MinPlateau, Window                  int
}

// Peak is a local maximum.
type Peak struct {
	Index, LeftEdge, RightEdge, LeftBase, RightBase int
	Height, Prominence, Width, WidthHeight          float64
	LeftCross, RightCross                           float64
}

// Peaks finds the local maxima of x.
func Peaks(x []float64, rules PeakRules) []Peak { return nil }
