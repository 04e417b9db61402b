package models

import (
	"errors"
	"fmt"
	"math"
)

// Seen is what one session looked like that a detector was trained on, labels
// apart: kept so that a later session can be held against it (see eval/drift).
type Seen struct {
	Session string       `json:"session"`
	Rig     string       `json:"rig"` // key of the revision
	Strikes int          `json:"strikes"`
	Spreads []SeenSpread `json:"spreads"`
	Figures []SeenFigure `json:"figures"`
}

// SeenSpread is how one number of a strike was spread over a session.
type SeenSpread struct {
	Name string `json:"name"`
	N    int    `json:"n"` // strikes that had it
	// Quantiles are order statistics at equal steps from the least to the
	// largest: all N of them, or fewer of a long session.
	Quantiles []float64 `json:"quantiles"`
}

// SeenFigure is one number of a whole session with its standard error.
type SeenFigure struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	SD    float64 `json:"sd"`
}

// mostQuantiles bounds what a file may hold of one spread.
const mostQuantiles = 1000

// check refuses what no training writes.
func (s Seen) check() error {
	if s.Session == "" || s.Rig == "" || s.Strikes < 0 {
		return fmt.Errorf("session %q of rig %q with %d strikes", s.Session, s.Rig, s.Strikes)
	}
	for _, p := range s.Spreads {
		if p.N < 1 || len(p.Quantiles) < 1 || len(p.Quantiles) > min(p.N, mostQuantiles) {
			return fmt.Errorf("session %s: %s: %d quantiles of %d strikes", s.Session, p.Name, len(p.Quantiles), p.N)
		}
		for i, q := range p.Quantiles {
			if math.IsNaN(q) || math.IsInf(q, 0) || i > 0 && q < p.Quantiles[i-1] {
				return fmt.Errorf("session %s: %s: quantile %d is %g: they must be numbers in rising order", s.Session, p.Name, i+1, q)
			}
		}
	}
	for _, f := range s.Figures {
		if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) || !(f.SD >= 0) || math.IsInf(f.SD, 0) {
			return fmt.Errorf("session %s: %s: %g with a standard error of %g", s.Session, f.Name, f.Value, f.SD)
		}
	}
	return nil
}

func checkSeen(all []Seen) error {
	var faults []error
	for _, s := range all {
		faults = append(faults, s.check())
	}
	return errors.Join(faults...)
}
