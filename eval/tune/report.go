package tune

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"strikerose/eval"
	"strikerose/models"
)

// Report is all that this package tells of a family.
type Report struct {
	Detector   string    `json:"detector"`            // name of the detector
	Strikes    int       `json:"strikes"`             // how many labelled strikes it was tuned on, at least 0
	Sessions   int       `json:"sessions"`            // how many sessions they come from, at least 0
	WithinMs   float64   `json:"within_ms,omitempty"` // longest wait allowed, milliseconds, above 0; absent for any
	Level      float64   `json:"level"`               // share that the intervals should hold, in (0, 1)
	Search     *Searched `json:"search"`              // settings that were tried; null where the detector has none
	Importance []Worth   `json:"importance"`          // what each group of features is worth with the best settings; empty where no features are read
	Path       []Step    `json:"path"`                // features left out step by step, with the best settings; empty where no features are read
	Step       int       `json:"step"`                // position in path of the step to take, from 0, at least 0

	fit models.Options
	cut bool // a cost was asked for
}

// Of tunes a family: the best settings, with these what each group of features is
// worth and what leaving features out costs, and the step of that to take where a
// cost bounds it.
func Of(ctx context.Context, ex []models.Example, f models.Family, o Options, most Cost) (*Report, error) {
	r := &Report{Detector: f.Name, Strikes: len(ex), Sessions: sessions(ex), WithinMs: o.Fit.WithinMs, Level: eval.UsualLevel, cut: most.Macs > 0 || most.Numbers > 0}
	var err error
	if r.Search, err = Search(ctx, ex, f, o); err != nil && !errors.Is(err, ErrNoSettings) {
		return nil, err
	}
	none := err != nil
	if !none {
		o.Fit.Settings = r.Search.Settings()
	}
	r.fit = o.Fit
	if r.Importance, err = Importance(ctx, ex, f, o); errors.Is(err, ErrNoFeatures) {
		if none || r.cut {
			return nil, err
		}
		return r, nil
	}
	if err != nil {
		return nil, err
	}
	if r.Path, err = Thin(ctx, ex, f, o); err != nil {
		return nil, err
	}
	r.Step, err = Within(r.Path, most)
	return r, err
}

// Take are the options to fit with: the best settings and, where a cost was asked
// for, the features of the step to take.
func (r *Report) Take() models.Options {
	o := r.fit
	if r.cut {
		o.Only = r.Path[r.Step].Features
	}
	return o
}

// Why says in a sentence what was taken and how well it is known.
func (r *Report) Why() string {
	with := []string{"its usual settings"}
	var e Errors
	if len(r.Path) > 0 {
		e = r.Path[0].Errors
	}
	if r.Search != nil {
		with, e = nil, r.Search.Tuned
		for _, n := range slices.Sorted(maps.Keys(r.Search.Settings())) {
			with = append(with, n+" "+strconv.FormatFloat(r.Search.Settings()[n], 'g', 3, 64))
		}
	}
	if r.cut {
		s := r.Path[r.Step]
		e = s.Errors
		with = append(with, fmt.Sprintf("%d features for %d operations and %d numbers", len(s.Features), s.Cost.Macs, s.Cost.Numbers))
	}
	return fmt.Sprintf("%s with %s: tuned on %d strikes of %d sessions; %.1f degrees and %.1f cm on sessions held back from the choice",
		r.Detector, strings.Join(with, ", "), r.Strikes, r.Sessions, e.BearingMAEDeg.Value, 100*e.HeightMAEM.Value)
}
