package truth

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"strikerose/label"
)

// chunk is how many strikes vote for an offset, and candidates how many
// offsets are refined.
const (
	chunk      = 60
	candidates = 8
)

// fitted is a line with the pairs (truth, onset) that it matches.
type fitted struct {
	line  line
	own   bool // the drift is its own
	pairs [][2]int
	sum   float64 // of the pairs' distances, seconds
}

func (f fitted) betterThan(g fitted) bool {
	return len(f.pairs) > len(g.pairs) || len(f.pairs) == len(g.pairs) && f.sum < g.sum
}

// votes returns the likeliest lines for chunks from the middle, the start and
// the end of the onsets, since a truth may cover a part of them alone.
func (s *search) votes(onsets []float64, w window, e Epoch, lowDrift, highDrift float64) []line {
	if len(onsets) <= chunk {
		return s.vote(onsets, w, e, lowDrift, highDrift)
	}
	var out []line
	for _, from := range []int{(len(onsets) - chunk) / 2, 0, len(onsets) - chunk} {
		out = append(out, s.vote(onsets[from:from+chunk], w, e, lowDrift, highDrift)...)
	}
	return out
}

// vote returns the lines under which most differences between truth times and
// onsets agree.
func (s *search) vote(onsets []float64, w window, e Epoch, lowDrift, highDrift float64) []line {
	at := onsets[len(onsets)/2]
	span := math.Max(1, onsets[len(onsets)-1]-onsets[0])
	// Between neighbouring drifts the chunk's ends move by less than the tolerance.
	steps := int(math.Ceil((highDrift - lowDrift) * span / s.tolerance))
	type vote struct {
		line  line
		count int
	}
	var votes []vote
	var lags []float64
	for k := 0; k <= steps; k++ {
		drift := lowDrift + (highDrift-lowDrift)*float64(k)/math.Max(1, float64(steps))
		lags = lags[:0]
		for _, t := range onsets {
			for _, T := range s.truth {
				lag := T - t - drift*(t-at)
				// The window may bend by the drift that is not known yet.
				slack := s.tolerance + maxDrift*(seconds(e.EndNs)-seconds(e.StartNs))
				if lag >= w.atStart-slack && lag <= w.atEnd+slack {
					lags = append(lags, lag)
				}
			}
		}
		slices.Sort(lags)
		// Of each run of lags, keep the fullest window.
		end := 0
		var here []vote
		for start := range lags {
			for end < len(lags) && lags[end]-lags[start] <= 2*s.tolerance {
				end++
			}
			v := vote{line{at, (lags[start] + lags[end-1]) / 2, drift}, end - start}
			if last := len(here) - 1; last >= 0 && v.line.offset-here[last].line.offset <= 2*s.tolerance {
				if v.count > here[last].count {
					here[last] = v
				}
				continue
			}
			here = append(here, v)
		}
		most := 0
		for _, v := range here {
			most = max(most, v.count)
		}
		for _, v := range here {
			if 3*v.count >= most { // the rest cannot be the best or the next best
				votes = append(votes, v)
			}
		}
	}
	slices.SortStableFunc(votes, func(a, b vote) int { return b.count - a.count })
	var out []line
	for _, v := range votes {
		if len(out) == candidates {
			break
		}
		near := func(l line) bool { return math.Abs(l.offset-v.line.offset) <= 2*s.tolerance }
		if !slices.ContainsFunc(out, near) {
			out = append(out, v.line)
		}
	}
	return out
}

// refine fits a line to pairs matched one to one, over a stretch that grows
// from the chunk to all onsets.
func (s *search) refine(onsets []float64, l line, lowDrift, highDrift float64) fitted {
	f := fitted{line: l}
	reach := math.Max(1, math.Abs(onsets[min(len(onsets)-1, chunk)]-onsets[0]))
	whole := onsets[len(onsets)-1] - onsets[0]
	for settled := 0; settled < 4; reach *= 1.6 {
		if reach >= whole {
			settled++
		}
		within := 2 * s.tolerance
		if settled > 1 {
			within = s.tolerance
		}
		f.pair(s.truth, onsets, reach, within)
		f.fit(s.truth, onsets, lowDrift, highDrift)
	}
	f.pair(s.truth, onsets, math.Inf(1), s.tolerance)
	return f
}

// pair matches truth and onsets no further than reach from the line's middle.
func (f *fitted) pair(truth, onsets []float64, reach, within float64) {
	var a, b []int64
	var ia, ib []int
	for k, T := range truth {
		if t := f.line.session(T); math.Abs(t-f.line.at) <= reach+within && math.Abs(t) < 1e9 {
			a, ia = append(a, int64(math.Round(t*1e9))), append(ia, k)
		}
	}
	for j, t := range onsets {
		if math.Abs(t-f.line.at) <= reach {
			b, ib = append(b, int64(math.Round(t*1e9))), append(ib, j)
		}
	}
	f.pairs, f.sum = nil, 0
	for _, p := range label.MatchTimes(a, b, int64(within*1e9)) {
		f.pairs = append(f.pairs, [2]int{ia[p[0]], ib[p[1]]})
		f.sum += math.Abs(float64(a[p[0]]-b[p[1]])) / 1e9
	}
}

// fit draws the line through the pairs, weighing them by Tukey's biweight
// (Beaton and Tukey, Technometrics 16, 1974; the usual constant 4.685).
func (f *fitted) fit(truth, onsets []float64, lowDrift, highDrift float64) {
	if len(f.pairs) < 2 {
		return
	}
	x, y, w := make([]float64, len(f.pairs)), make([]float64, len(f.pairs)), make([]float64, len(f.pairs))
	for i, p := range f.pairs {
		x[i] = onsets[p[1]] - f.line.at
		y[i] = truth[p[0]] - onsets[p[1]]
	}
	f.own = len(f.pairs) >= ownDrift && slices.Max(x)-slices.Min(x) >= ownSpanS
	for range 10 {
		residuals := make([]float64, len(x))
		for i := range x {
			residuals[i] = y[i] - f.line.offset - f.line.drift*x[i]
		}
		middle := median(residuals)
		scale := math.Max(1e-3, spread(residuals))
		total := 0.0
		for i, r := range residuals {
			u := (r - middle) / (4.685 * scale)
			w[i] = 0
			if math.Abs(u) < 1 {
				w[i] = (1 - u*u) * (1 - u*u)
			}
			total += w[i]
		}
		if f.own {
			alpha, beta := stat.LinearRegression(x, y, w, false)
			beta = math.Max(lowDrift, math.Min(highDrift, beta))
			alpha = stat.Mean(y, w) - beta*stat.Mean(x, w)
			f.line.offset, f.line.drift = alpha, beta
		} else {
			f.line.offset = stat.Mean(y, w) - f.line.drift*stat.Mean(x, w)
		}
	}
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return stat.Quantile(0.5, stat.Empirical, y, nil)
}

// spread is 1.4826 times the median absolute deviation, the standard
// deviation of a normal distribution.
func spread(x []float64) float64 {
	middle := median(x)
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - middle)
	}
	return 1.4826 * median(d)
}
