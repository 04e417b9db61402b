package models

import (
	"math"
	"math/rand/v2"
	"testing"
)

// answerFixed answers with inputs, weights and what hidden units hand on all
// rounded to signed integers of so many bits.
func answerFixed(n *Net, in []float64, bits int) []float64 {
	round := func(v, most float64) float64 {
		step := fixedStep(most, bits)
		return math.Round(v/step) * step
	}
	rounded := make([]float64, len(in))
	for k, v := range in {
		rounded[k] = round(v, inputSpan)
	}
	r := n.Rounded(bits)
	out := append([]float64(nil), r.OutBias...)
	for u, row := range r.Hidden {
		sum := r.HiddenBias[u]
		for k, w := range row {
			sum += w * rounded[k]
		}
		h := round(math.Tanh(sum), 1)
		for o := range out {
			out[o] += r.Out[o][u] * h
		}
	}
	return out
}

func randomNet(rng *rand.Rand, inputs, outputs, units int) *Net {
	x := make([]float64, units*(inputs+1)+outputs*(units+1))
	for i := range x {
		x[i] = 0.3 * rng.NormFloat64()
	}
	return netOf(x, inputs, outputs, units)
}

// TestFixedPointNets: with activations rounded too, outputs are off by no more
// than rounding can add up to, and each bit halves that.
func TestFixedPointNets(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	const inputs, units = 20, 8
	for range 20 {
		n := randomNet(rng, inputs, 2, units)
		span := n.Span(inputSpan)
		in := make([]float64, inputs)
		for k := range in {
			in[k] = (2*rng.Float64() - 1) * inputSpan
		}
		want := make([]float64, 2)
		n.answer(in, want)
		for _, bits := range []int{8, 12, 16} {
			// Half a step of each weight and of each input, through units of slope
			// at most 1, and half a step of what they hand on.
			weight, input, hidden := fixedStep(span.Weight, bits)/2, fixedStep(inputSpan, bits)/2, fixedStep(1, bits)/2
			perUnit := weight*(inputs*inputSpan+1) + input*inputs*(span.Weight+weight) + hidden
			most := units*(span.Weight+weight)*perUnit + weight*(units+1)
			for o, got := range answerFixed(n, in, bits) {
				if off := math.Abs(got - want[o]); off > most {
					t.Errorf("%d bits: output %d off by %g, at most %g can add up", bits, o, off, most)
				}
			}
			// In practice errors average out.
			if off := math.Abs(answerFixed(n, in, bits)[0] - want[0]); off > 16*math.Exp2(-float64(bits)) {
				t.Errorf("%d bits: output off by %g", bits, off)
			}
		}
		var largest float64
		for u, row := range n.Hidden {
			sum := n.HiddenBias[u]
			for k, w := range row {
				sum += w * in[k]
			}
			largest = math.Max(largest, math.Abs(sum))
		}
		if largest > span.Sum {
			t.Errorf("a sum of %g beyond the bound of %g", largest, span.Sum)
		}
	}
}

func TestFixedStep(t *testing.T) {
	for _, c := range []struct {
		largest float64
		bits    int
		want    float64
	}{{127, 8, 1}, {127.5, 8, 2}, {1, 8, 1.0 / 64}, {0.99, 8, 1.0 / 128}, {32767, 16, 1}, {0, 8, 1}} {
		if got := fixedStep(c.largest, c.bits); got != c.want {
			t.Errorf("fixedStep(%g, %d) = %g, want %g", c.largest, c.bits, got, c.want)
		}
	}
}
