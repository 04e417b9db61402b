package models

import (
	"fmt"
	"math"
)

// Standard brings numbers to mean 0 and spread 1 and holds them to some standard
// deviations.
type Standard struct {
	Mean   []float64 `json:"mean"`
	Spread []float64 `json:"spread"`
}

// standardOf learns from rows of equal length. Odd columns change their sign in a
// mirror: their mean is 0, so that mirror images stay mirror images.
func standardOf(rows [][]float64, odd func(column int) bool) Standard {
	columns, n := len(rows[0]), float64(len(rows))
	s := Standard{Mean: make([]float64, columns), Spread: make([]float64, columns)}
	for i := range columns {
		if !odd(i) {
			for _, row := range rows {
				s.Mean[i] += row[i] / n
			}
		}
		for _, row := range rows {
			d := row[i] - s.Mean[i]
			s.Spread[i] += d * d / n
		}
		if s.Spread[i] = math.Sqrt(s.Spread[i]); s.Spread[i] < 1e-9 {
			s.Spread[i] = 1
		}
	}
	return s
}

// apply changes a row in place.
func (s Standard) apply(row []float64) {
	for i := range row {
		row[i] = math.Min(math.Max((row[i]-s.Mean[i])/s.Spread[i], -heldSD), heldSD)
	}
}

func (s Standard) check(columns int) error {
	if len(s.Mean) != columns || len(s.Spread) != columns {
		return fmt.Errorf("%d means and %d spreads of %d numbers", len(s.Mean), len(s.Spread), columns)
	}
	for _, v := range s.Spread {
		if !(v > 0) {
			return fmt.Errorf("a spread of %g is not positive", v)
		}
	}
	return nil
}
