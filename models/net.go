package models

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
)

// Net is a net of one hidden layer of tanh units:
//
//	out = OutBias + Out tanh(HiddenBias + Hidden in)
//
// Hidden has one row of inputs a unit, Out one row of units an output.
type Net struct {
	Hidden     [][]float64 `json:"hidden"`
	HiddenBias []float64   `json:"hidden_bias"`
	Out        [][]float64 `json:"out"`
	OutBias    []float64   `json:"out_bias"`
}

// answer writes the outputs for one input to out.
func (n *Net) answer(in, out []float64) {
	copy(out, n.OutBias)
	for u, row := range n.Hidden {
		a := n.HiddenBias[u]
		for k, w := range row {
			a += w * in[k]
		}
		a = math.Tanh(a)
		for o := range out {
			out[o] += n.Out[o][u] * a
		}
	}
}

func (n *Net) check(inputs, outputs int) error {
	if len(n.Out) != outputs || len(n.OutBias) != outputs || len(n.HiddenBias) != len(n.Hidden) {
		return fmt.Errorf("net: %d outputs and %d hidden biases for %d outputs and %d units", len(n.Out), len(n.HiddenBias), outputs, len(n.Hidden))
	}
	for _, row := range n.Hidden {
		if len(row) != inputs {
			return fmt.Errorf("net: %d weights of a unit for %d inputs", len(row), inputs)
		}
	}
	for _, row := range n.Out {
		if len(row) != len(n.Hidden) {
			return fmt.Errorf("net: %d weights of an output for %d units", len(row), len(n.Hidden))
		}
	}
	return nil
}

// lesson is one example for a net: inputs, outputs wanted, and the weight of
// each output's error.
type lesson struct{ in, want, weight []float64 }

// teach fits a net of some units: the pseudo-Huber loss sqrt(1 + e^2) - 1 of
// every output's error, and decay times the sum of squared weights.
func teach(ctx context.Context, lessons []lesson, units int, decay float64, steps int, rng *rand.Rand) (*Net, error) {
	inputs, outputs := len(lessons[0].in), len(lessons[0].want)
	size := units*(inputs+1) + outputs*(units+1)
	start := make([]float64, size)
	for u := range units {
		for k := range inputs {
			start[u*(inputs+1)+k] = rng.NormFloat64() * 0.5 / math.Sqrt(float64(inputs))
		}
	}
	tail := units * (inputs + 1)
	for i := tail; i < size; i++ {
		start[i] = rng.NormFloat64() * 0.3 / math.Sqrt(float64(units))
	}
	x, err := minimise(ctx, start, netLoss(lessons, units, decay), steps)
	if err != nil {
		return nil, err
	}
	return netOf(x, inputs, outputs, units), nil
}

// netLoss is the loss of a net's weights in one flat vector: hidden weights and
// bias of each unit, then weights and bias of each output.
func netLoss(lessons []lesson, units int, decay float64) objective {
	inputs := len(lessons[0].in)
	tail := units * (inputs + 1)
	hidden, slope := make([]float64, units), make([]float64, units)
	return func(x, grad []float64) float64 {
		clear(grad)
		weights := blas64.General{Rows: units, Cols: inputs, Stride: inputs + 1, Data: grad}
		loss := 0.0
		for _, l := range lessons {
			// Every step is taken for all units before the next: sums of several
			// units go on at once, and no guess at a branch of tanh waits for one.
			for u := range units {
				row := x[u*(inputs+1) : (u+1)*(inputs+1)]
				hidden[u] = row[inputs] + floats.Dot(row[:inputs], l.in)
			}
			for u, sum := range hidden {
				hidden[u], slope[u] = math.Tanh(sum), 0
			}
			for o, want := range l.want {
				row := x[tail+o*(units+1) : tail+(o+1)*(units+1)]
				g := grad[tail+o*(units+1) : tail+(o+1)*(units+1)]
				out := row[units]
				for u, h := range hidden {
					out += row[u] * h
				}
				e := out - want
				root := math.Sqrt(1 + e*e)
				loss += l.weight[o] * (root - 1)
				d := l.weight[o] * e / root
				g[units] += d
				for u, h := range hidden {
					g[u] += d * h
					slope[u] += d * row[u]
				}
			}
			for u, h := range hidden {
				slope[u] *= 1 - h*h
				grad[u*(inputs+1)+inputs] += slope[u]
			}
			blas64.Ger(1, blas64.Vector{N: units, Data: slope, Inc: 1}, blas64.Vector{N: inputs, Data: l.in, Inc: 1}, weights)
		}
		for i, w := range x {
			loss += decay * w * w
			grad[i] += 2 * decay * w
		}
		return loss
	}
}

// netOf reads a net from the flat vector.
func netOf(x []float64, inputs, outputs, units int) *Net {
	tail := units * (inputs + 1)
	n := &Net{}
	for u := range units {
		row := x[u*(inputs+1) : (u+1)*(inputs+1)]
		n.Hidden = append(n.Hidden, append([]float64(nil), row[:inputs]...))
		n.HiddenBias = append(n.HiddenBias, row[inputs])
	}
	for o := range outputs {
		row := x[tail+o*(units+1) : tail+(o+1)*(units+1)]
		n.Out = append(n.Out, append([]float64(nil), row[:units]...))
		n.OutBias = append(n.OutBias, row[units])
	}
	return n
}
