package signal

import "slices"

// Cascade runs second-order sections one sample at a time, in transposed
// direct form II. Stepping allocates nothing. It is not safe for concurrent
// use.
type Cascade struct {
	sections []Section
	state    [][2]float64
}

// NewCascade returns a cascade at rest, as if the input had been 0 for ever.
// It keeps a copy of the sections.
func NewCascade(sections []Section) *Cascade {
	return &Cascade{sections: slices.Clone(sections), state: make([][2]float64, len(sections))}
}

// Step filters one sample.
func (c *Cascade) Step(x float64) float64 {
	for i := range c.sections {
		s, z := &c.sections[i], &c.state[i]
		// The conversions keep a processor from fusing multiplication and
		// addition, so that all of them give the same bits.
		y := float64(s.B0*x) + z[0]
		z[0] = float64(s.B1*x) - float64(s.A1*y) + z[1]
		z[1] = float64(s.B2*x) - float64(s.A2*y)
		x = y
	}
	return x
}

// Reset returns to rest.
func (c *Cascade) Reset() { clear(c.state) }

// Settle sets the state as if x had been the input for ever, so that a filter
// that starts in the middle of a signal does not ring.
func (c *Cascade) Settle(x float64) {
	for i, s := range c.sections {
		y := x * (s.B0 + s.B1 + s.B2) / (1 + s.A1 + s.A2)
		c.state[i] = [2]float64{y - s.B0*x, s.B2*x - s.A2*y}
		x = y
	}
}

// ForwardBackward filters x forward and then backward, which squares the gain
// and leaves no delay. It returns a new slice. It needs the whole signal and
// is for analysis, not for anything that has to run on a board.
//
// Before filtering, both ends are continued by odd reflection about the end
// sample over three times the filter's length (common practice, no source), or
// as far as x reaches.
func ForwardBackward(sections []Section, x []float64) []float64 {
	pad := min(padding(sections), len(x)-1)
	if len(x) == 0 {
		return nil
	}
	y := make([]float64, 0, len(x)+2*pad)
	first, last := x[0], x[len(x)-1]
	for i := pad; i > 0; i-- {
		y = append(y, 2*first-x[i])
	}
	y = append(y, x...)
	for i := 1; i <= pad; i++ {
		y = append(y, 2*last-x[len(x)-1-i])
	}
	c := NewCascade(sections)
	for range 2 {
		c.Settle(y[0])
		for i, v := range y {
			y[i] = c.Step(v)
		}
		slices.Reverse(y)
	}
	return slices.Clone(y[pad : pad+len(x)])
}

// padding is three times the number of coefficients of the sections
// multiplied out.
func padding(sections []Section) int {
	noB, noA := 0, 0
	for _, s := range sections {
		if s.B2 == 0 {
			noB++
		}
		if s.A2 == 0 {
			noA++
		}
	}
	return 3 * (2*len(sections) + 1 - min(noB, noA))
}
