package models

import (
	"fmt"

	"strikerose/features"
)

// The checks of parameters that came from a file: whatever passes answers
// every strike without a panic. JSON holds no infinities, so lengths, names
// and kinds are what can be wrong.

func checkNames(names []string, vector, odd bool) error {
	for _, n := range names {
		if !features.Known(n) {
			return fmt.Errorf("feature %q is unknown", n)
		}
		for _, d := range features.All() {
			if d.Name == n && (d.Vector != vector || !vector && d.Odd != odd) {
				return fmt.Errorf("feature %q is of another kind", n)
			}
		}
	}
	return nil
}

func checkLists(vectors, odd, even []string) error {
	if err := checkNames(vectors, true, false); err != nil {
		return err
	}
	if err := checkNames(odd, false, true); err != nil {
		return err
	}
	return checkNames(even, false, false)
}

func (c *Changes) check() error {
	if err := checkLists(c.Vectors, c.Odd, c.Even); err != nil {
		return err
	}
	for _, l := range []struct {
		name       string
		have, want int
	}{
		{"first", len(c.First), len(c.Vectors)}, {"push", len(c.Push), len(c.Vectors)},
		{"push_odd", len(c.PushOdd), len(c.Odd)}, {"push_even", len(c.PushEven), len(c.Even)},
		{"top", len(c.Top), len(c.Vectors)}, {"top_even", len(c.TopEven), len(c.Even)},
		{"bottom", len(c.Bottom), len(c.Vectors)}, {"bottom_even", len(c.BottomEven), len(c.Even)},
	} {
		if l.have != l.want {
			return fmt.Errorf("%s: %d weights for %d features", l.name, l.have, l.want)
		}
	}
	return nil
}

func (c *ComplexRidge) check() error {
	if err := checkOwn(c.Own); err != nil {
		return err
	}
	switch c.Form {
	case FormOwn, FormFew, FormFull:
		if (c.Changes == nil) != (c.Form == FormOwn) {
			return fmt.Errorf("form %q with the parameters of another", c.Form)
		}
		if c.Changes != nil {
			if err := c.Changes.check(); err != nil {
				return err
			}
		}
		if c.Accelerometer != nil {
			return c.Accelerometer.check()
		}
	case FormAccelerometer:
		if c.Accelerometer == nil || c.Changes != nil {
			return fmt.Errorf("form %q with the parameters of another", c.Form)
		}
		return c.Accelerometer.check()
	default:
		return fmt.Errorf("form %q is unknown", c.Form)
	}
	return nil
}

func (a *Accelerometer) check() error {
	if err := a.Aligner.check(); err != nil {
		return err
	}
	if len(a.Nets) == 0 || a.First == nil {
		return fmt.Errorf("%d nets and %d first weights", len(a.Nets), len(a.First))
	}
	for _, n := range a.Nets {
		if n == nil {
			return fmt.Errorf("a net is missing")
		}
		if err := n.check(a.Columns()+1, netOutputs); err != nil {
			return err
		}
	}
	return nil
}

func (c *Certainty) check() error {
	if c.BearingSDDeg < 0 || c.BearingHalf90Deg < 0 || c.HeightSDM < 0 || c.HeightHalf90M < 0 {
		return fmt.Errorf("a figure is below 0")
	}
	if !(c.FlipShare >= 0 && c.FlipShare <= mostFlipShare) {
		return fmt.Errorf("flip_share %g is not from 0 to %g", c.FlipShare, mostFlipShare)
	}
	if c.Risk != 0 {
		if err := checkRisk(c.Risk); err != nil {
			return err
		}
	}
	if err := c.Difficulty.check(); err != nil {
		return fmt.Errorf("difficulty: %w", err)
	}
	if err := c.HeightDifficulty.check(); err != nil {
		return fmt.Errorf("height_difficulty: %w", err)
	}
	return nil
}

func (d *Difficulty) check() error {
	if d == nil {
		return nil
	}
	terms := difficultyTerms()
	if len(d.Terms) != len(terms) || len(d.Weights) != len(terms) || len(d.Mean) != len(terms) || !(d.Low > 0 && d.High >= d.Low) {
		return fmt.Errorf("%d weights and %d means for %d terms, from %g to %g", len(d.Weights), len(d.Mean), len(terms), d.Low, d.High)
	}
	for i, t := range terms {
		if d.Terms[i] != t {
			return fmt.Errorf("term %q is not %q", d.Terms[i], t)
		}
	}
	return nil
}
