package eval

import "math"

// A bag may be parted more or less finely. A detector supports so many equal
// parts when RightShare of the strikes, or more, would be put in the right one.
const (
	RightShare = 0.95

	// MostFaces and MostBands end the search: finer is of no use to a person.
	MostFaces = 72
	MostBands = 50

	// LeastToSupport is how many strikes it takes to support anything at all:
	// were every one of fewer right, their true share could still be below
	// RightShare with a probability of more than one in twenty (0.95^59 < 0.05;
	// Wilks 1941, Annals of Mathematical Statistics 12:91-96).
	LeastToSupport = 59
)

// rightFace is the probability that an answer off by a part of a whole turn is
// put in the right one of n equal sectors whose edges lie anywhere: an edge
// falls between answer and truth with the error over the sector's width.
func rightFace(part float64, n int) float64 {
	if n < 2 {
		return 1
	}
	return math.Max(0, 1-part*float64(n))
}

// rightBand is the same for n equal bands and strikes spread evenly over the
// bag, of whose height the error is a part. The ends of the bag are no edges:
// n bands have n-1.
func rightBand(part float64, n int) float64 {
	return 1 - math.Min(1, part*float64(n))*float64(n-1)/float64(n)
}

// finest returns the largest number of parts, up to most, of which RightShare
// of the strikes hit the right one, as a function of how often each unit
// counts: 1 where not even two can be told apart. Errors are parts of the
// whole.
func finest(errors []float64, owner []int, units, most int, right func(part float64, n int) float64) func([]float64) float64 {
	count := make([]float64, units)
	sums := make([][]float64, most+1) // [parts][unit]; the share falls as parts grow
	for n := 2; n <= most; n++ {
		sums[n] = make([]float64, units)
	}
	for i, e := range errors {
		count[owner[i]]++
		for n := 2; n <= most; n++ {
			sums[n][owner[i]] += right(e, n)
		}
	}
	return func(w []float64) float64 {
		total := dot(w, count)
		if total == 0 {
			return math.NaN()
		}
		low, high := 1, most+1 // the first is supported, the second not
		for high-low > 1 {
			if n := (low + high) / 2; dot(w, sums[n]) >= RightShare*total*(1-1e-12) {
				low = n
			} else {
				high = n
			}
		}
		return float64(low)
	}
}

func dot(a, b []float64) float64 {
	var s float64
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// partOfTurn is the size of a score's bearing error in whole turns, partOfBag
// that of its height error in lengths of the bag; NaN where it is not known.
func partOfTurn(s Score) float64 { return math.Abs(s.BearingErrDeg) / 360 }

func partOfBag(s Score) float64 { return math.Abs(s.HeightErrM) / s.LengthM }

// shareRight is the share of errors, parts of the whole, that are right with n
// parts; NaN without any.
func shareRight(errors []float64, n int, right func(part float64, n int) float64) float64 {
	if len(errors) == 0 {
		return math.NaN()
	}
	var s float64
	for _, e := range errors {
		s += right(e, n)
	}
	return s / float64(len(errors))
}
