package models

import "math"

// Span is what fixed-point arithmetic must hold to run nets: no weight and no sum
// of a hidden unit or an output is larger. What a hidden unit hands on lies
// within 1.
type Span struct{ Weight, Sum float64 }

// weights is how many numbers the net has.
func (n *Net) weights() int {
	size := len(n.HiddenBias) + len(n.OutBias)
	for _, row := range n.Hidden {
		size += len(row)
	}
	for _, row := range n.Out {
		size += len(row)
	}
	return size
}

// Span bounds weights and sums for inputs that are no larger than input.
func (n *Net) Span(input float64) Span {
	var s Span
	layer := func(rows [][]float64, biases []float64, input float64) {
		for u, row := range rows {
			sum := math.Abs(biases[u])
			s.Weight = math.Max(s.Weight, sum)
			for _, w := range row {
				s.Weight = math.Max(s.Weight, math.Abs(w))
				sum += math.Abs(w) * input
			}
			s.Sum = math.Max(s.Sum, sum)
		}
	}
	layer(n.Hidden, n.HiddenBias, input)
	layer(n.Out, n.OutBias, 1)
	return s
}

// Rounded returns the net with weights that signed integers of so many bits
// hold: whole multiples of a power of two, the smallest for which the largest
// weight of the layer fits.
func (n *Net) Rounded(bits int) *Net {
	out := &Net{}
	out.Hidden, out.HiddenBias = roundedLayer(n.Hidden, n.HiddenBias, bits)
	out.Out, out.OutBias = roundedLayer(n.Out, n.OutBias, bits)
	return out
}

func roundedLayer(rows [][]float64, biases []float64, bits int) ([][]float64, []float64) {
	largest := 0.0
	for u, row := range rows {
		largest = math.Max(largest, math.Abs(biases[u]))
		for _, w := range row {
			largest = math.Max(largest, math.Abs(w))
		}
	}
	step := fixedStep(largest, bits)
	round := func(x []float64) []float64 {
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = math.Round(v/step) * step
		}
		return y
	}
	out := make([][]float64, len(rows))
	for u, row := range rows {
		out[u] = round(row)
	}
	return out, round(biases)
}

// fixedStep is the smallest power of two of which a signed integer of so many
// bits counts enough to reach largest.
func fixedStep(largest float64, bits int) float64 {
	if !(largest > 0) {
		return 1
	}
	most := math.Ldexp(1, bits-1) - 1
	return math.Exp2(math.Ceil(math.Log2(largest / most)))
}

// inputSpan bounds what the nets see: aligned features are held to some standard
// deviations, and heights and places on the bag are smaller.
const inputSpan = heldSD

// Span bounds weights and sums of all nets.
func (p *Perceptron) Span() Span {
	var s Span
	for _, n := range p.nets() {
		o := n.Span(inputSpan)
		s.Weight, s.Sum = math.Max(s.Weight, o.Weight), math.Max(s.Sum, o.Sum)
	}
	return s
}

// Rounded returns the detector's parameters with the weights of every net
// rounded to signed integers of so many bits.
func (p *Perceptron) Rounded(bits int) *Perceptron {
	rounded := func(nets []*Net) []*Net {
		out := make([]*Net, len(nets))
		for i, n := range nets {
			out[i] = n.Rounded(bits)
		}
		return out
	}
	out := *p
	if p.Gyroscope != nil {
		c := *p.Gyroscope
		c.Nets = rounded(c.Nets)
		out.Gyroscope = &c
	}
	if p.Accelerometer != nil {
		a := *p.Accelerometer
		a.Nets = rounded(a.Nets)
		out.Accelerometer = &a
	}
	return &out
}
