package eval

import "context"

// UsualLevel is that of the intervals where none is asked for.
const UsualLevel = 0.95

// Mean is the mean of a number a strike, with the interval at UsualLevel that a
// comparison would give it: over sessions where there are enough, else over blocks of
// strikes. sessions names each strike's, in order of time; name tells this mean's
// resamples from others'.
func Mean(values []float64, sessions []string, seed uint64, name string) Figure {
	o := Options{}.withDefaults()
	unit, units, _ := resamplingUnits(sessions)
	r := newResampler(units, o.Resamples, stream(seed, name))
	return column{values: values, kind: meanOf}.figure(unit, r, UsualLevel)
}

// Parallel calls do for 0 to n-1, some at once (workers; 0 is the number of
// processors), and returns the error of the lowest number that failed. Results
// belong in slots by number, so that nothing depends on the order of finishing.
func Parallel(ctx context.Context, n, workers int, do func(i int) error) error {
	return parallel(ctx, n, workers, do)
}
