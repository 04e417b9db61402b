package drift

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/ringdown"
	"strikerose/models"
	"strikerose/models/physics"
)

// keptQuantiles is how many order statistics are kept of a spread. Between them
// the test of Smirnov cannot see more than a step of a 32nd.
const keptQuantiles = 33

// Look takes the numbers of a session from its samples alone; the caller fills in
// the session's name. The seed decides the resampling behind the standard errors
// of the free motion. It errors as the chain does and when ctx is done; a session
// of too few strikes merely has fewer numbers.
func Look(ctx context.Context, r *rig.Rig, sig *dataset.Signal, seed uint64) (models.Seen, error) {
	windows, err := chain.Run(ctx, r, sig, eval.WholeWindow())
	if err != nil {
		return models.Seen{}, err
	}
	out := models.Seen{Rig: r.Key(), Strikes: len(windows)}
	bag := physics.NewBag(r)
	strikes := make([]strike, 0, len(windows))
	onsets := make([]int64, 0, len(windows))
	for i, w := range windows {
		if i%64 == 0 && ctx.Err() != nil {
			return out, ctx.Err()
		}
		onsets = append(onsets, w.Strike.OnsetNs)
		if p := bag.Place(w); p.Whole {
			strikes = append(strikes, strike{row: features.Extract(w, r, nil), place: p})
		}
	}
	out.Spreads = spreadsOf(strikes)
	out.Figures = restOf(r, sig)
	found, err := ringdown.Measure(ctx, ringdown.Cut(sig, r, onsets), r.Mechanics(), seed)
	switch {
	case ctx.Err() != nil:
		return out, ctx.Err()
	case errors.Is(err, ringdown.ErrFew):
	case err != nil:
		return out, fmt.Errorf("free motion: %w", err)
	default:
		out.Figures = append(out.Figures, motionOf(found)...)
	}
	return out, nil
}

// spreadOf keeps a spread by its order statistics at equal steps.
func spreadOf(name string, values []float64) models.SeenSpread {
	slices.Sort(values)
	n := min(len(values), keptQuantiles)
	s := models.SeenSpread{Name: name, N: len(values)}
	for k := range n {
		at := 0
		if n > 1 {
			at = int(math.Round(float64(k) * float64(len(values)-1) / float64(n-1)))
		}
		s.Quantiles = append(s.Quantiles, rounded(values[at]))
	}
	return s
}

// rounded keeps five digits: a file for people to read.
func rounded(v float64) float64 {
	if v == 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-4)
	return math.Round(v/unit) * unit
}

// motionOf are the figures of the free motion. Half of a 90 % interval is 1.645
// standard errors of a normal error.
func motionOf(f ringdown.Found) []models.SeenFigure {
	figure := func(name string, v ringdown.Value) models.SeenFigure {
		return models.SeenFigure{Name: name, Value: rounded(v.Value), SD: rounded((v.High - v.Low) / (2 * 1.645))}
	}
	out := []models.SeenFigure{figure("swing_hz", f.Swing.Hz), figure("rocking_hz", f.Rocking.Hz)}
	if f.Twist != nil {
		out = append(out, figure("twist_hz", f.Twist.Hz))
	}
	if f.LeverM != nil {
		out = append(out, figure("lever_m", *f.LeverM))
	}
	return out
}

// Stretches by which the resting reading and its standard error are told.
const (
	restS       = 15.0 // several swings
	leastRested = 4    // stretches
)

// restOf tells which way the sensor hangs: the angles between the mean specific
// force and the bag's axis, toward bearing 90 and 0. Over several swings the swing
// cancels; the median over stretches leaves out those in which much was struck.
func restOf(r *rig.Rig, sig *dataset.Signal) []models.SeenFigure {
	turn := r.AccelTurn()
	size := int(restS * r.Sensor.RateHz)
	var x, y []float64
	for _, span := range sig.Segments() {
		for from := span.Start; from+size <= span.End; from += size {
			var mean [3]float64
			for k := range mean {
				for _, v := range sig.A[k][from : from+size] {
					mean[k] += float64(v) / float64(size)
				}
			}
			bag := turn.Bag(mean)
			x = append(x, degrees(bag[0], bag[2]))
			y = append(y, degrees(bag[1], bag[2]))
		}
	}
	if len(x) < leastRested {
		return nil
	}
	return []models.SeenFigure{middle("rest_x_deg", x), middle("rest_y_deg", y)}
}

// degrees is the angle whose tangent is a part across over the part along.
func degrees(across, along float64) float64 { return bearing.Deg(math.Atan2(across, along)) }

// middle is the median with its standard error: of a normal sample, 1.253 times
// that of the mean, with the spread taken from the median distance.
func middle(name string, values []float64) models.SeenFigure {
	m := median(values)
	distances := make([]float64, len(values))
	for i, v := range values {
		distances[i] = math.Abs(v - m)
	}
	sd := 1.4826 * median(distances) * 1.2533 / math.Sqrt(float64(len(values)))
	return models.SeenFigure{Name: name, Value: rounded(m), SD: rounded(sd)}
}

// median of a list that is not empty; the list is sorted.
func median(values []float64) float64 {
	slices.Sort(values)
	return stat.Quantile(0.5, stat.Empirical, values, nil)
}
