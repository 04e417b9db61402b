package models

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"strikerose/features"
)

// Options steers a fit. The zero value fits a family as it is listed.
type Options struct {
	Seed uint64 // of everything random: folds and starts
	// WithinMs bounds the wait: nothing of the detector reads a sample later
	// than this after the onset. A family drops the features that end later, or
	// refuses where it cannot do without; one that gains by waiting reads up to
	// it. 0 is the family's own wait.
	WithinMs float64
	// Only names the features that an answer may be made of; nil allows all. It
	// does not touch what is stated beside the answer.
	Only []string
	// Settings of the family by name, see Family.Settings; what is not named has
	// its usual value.
	Settings map[string]float64
	// Uncalibrated leaves out the strikes held back where certainty alone wants
	// them: the one that is stated is then a prior.
	Uncalibrated bool
}

// Setting is a number that a fit does not learn.
type Setting struct {
	Name, Doc string
	Usual     float64
	Least     float64 // smallest that works
	Most      float64 // largest that is of any use
	Whole     bool    // a count
	Try       []float64
	NeedsGyro bool // it matters only where there are rotation rates
	NoGyro    bool // it matters only where there are none
}

// check tells whether a value will do.
func (s Setting) check(v float64) error {
	switch {
	case !(v >= s.Least && v <= s.Most):
		return fmt.Errorf("%s is %g: give %g to %g", s.Name, v, s.Least, s.Most)
	case s.Whole && v != math.Trunc(v):
		return fmt.Errorf("%s is %g: give a whole number", s.Name, v)
	}
	return nil
}

// settled returns the options with every setting of the family at its value.
// Unknown settings and features, and values that do not work, are errors, all of
// them told.
func (o Options) settled(settings []Setting) (Options, error) {
	var faults []error
	if !(o.WithinMs >= 0) || math.IsInf(o.WithinMs, 0) {
		faults = append(faults, fmt.Errorf("a wait of %g ms: give a number of milliseconds after the onset", o.WithinMs))
	}
	for _, n := range o.Only {
		if !features.Known(n) {
			faults = append(faults, fmt.Errorf("no feature is named %q: `strikerose features` writes a table of all", n))
		}
	}
	all := make(map[string]float64, len(settings))
	for _, s := range settings {
		v, given := o.Settings[s.Name]
		if !given {
			v = s.Usual
		}
		if err := s.check(v); err != nil {
			faults = append(faults, err)
		}
		all[s.Name] = v
	}
	for _, n := range slices.Sorted(maps.Keys(o.Settings)) {
		if _, known := all[n]; !known {
			faults = append(faults, fmt.Errorf("no setting is named %q: %s", n, settingsList(settings)))
		}
	}
	o.Settings = all
	return o, errors.Join(faults...)
}

func settingsList(settings []Setting) string {
	if len(settings) == 0 {
		return "there is none"
	}
	names := make([]string, len(settings))
	for i, s := range settings {
		names[i] = s.Name
	}
	return "there is " + strings.Join(names, ", ")
}

// allows tells whether an answer may be made of a feature.
func (o Options) allows(name string) bool {
	return (o.WithinMs == 0 || features.ToMs(name) <= o.WithinMs) && (o.Only == nil || slices.Contains(o.Only, name))
}

// cut keeps of a list of features those that an answer may be made of.
func (o Options) cut(names []string) []string {
	var out []string
	for _, n := range names {
		if o.allows(n) {
			out = append(out, n)
		}
	}
	return out
}

// check refuses a detector that reads what the options forbid, on rigs of the kind
// of the examples; on any without examples.
func (o Options) check(c core, ex []Example) error {
	for _, n := range c.features() {
		if o.Only != nil && !slices.Contains(o.Only, n) {
			return fmt.Errorf("reads %s, which is not among the %d features allowed, and cannot do without", n, len(o.Only))
		}
	}
	ms, gyroMs := waits(c, o.WithinMs)
	switch with, without := byGyro(ex); {
	case haveGyro(ex):
		ms = gyroMs
	case len(without) == 0 || len(with) > 0:
		ms = max(ms, gyroMs)
	}
	if o.WithinMs > 0 && ms > o.WithinMs {
		return tooShort(o.WithinMs, ms)
	}
	return nil
}

// tooShort is the error of a detector that must wait for longer than allowed.
func tooShort(withinMs, waitMs float64) error {
	return fmt.Errorf("waits %g ms after the onset and cannot answer within %g ms: allow %g ms, or choose another detector", waitMs, withinMs, waitMs)
}

// within returns a row without what features read later than withinMs after the
// onset, so that a longer window changes nothing; 0 keeps all.
func within(row features.Row, withinMs float64) features.Row {
	if _, longest := features.Longest(); withinMs == 0 || withinMs >= longest {
		return row
	}
	defs := features.All()
	out := slices.Clone(row)
	for c, column := range features.Columns() {
		if c < len(out) && defs[column.Def].ToMs > withinMs {
			out[c] = math.NaN()
		}
	}
	return out
}

// optionsJSON is what a detector file keeps of the options; the seed stands in
// Training.
type optionsJSON struct {
	WithinMs float64            `json:"within_ms,omitempty"`
	Only     []string           `json:"only,omitempty"`
	Settings map[string]float64 `json:"settings,omitempty"`
}

func (o Options) file() optionsJSON {
	j := optionsJSON{WithinMs: o.WithinMs, Only: o.Only}
	if len(o.Settings) > 0 {
		j.Settings = o.Settings
	}
	return j
}

func (j optionsJSON) options(seed uint64) Options {
	return Options{Seed: seed, WithinMs: j.WithinMs, Only: j.Only, Settings: j.Settings}
}

// Reads lists the features that the answers are made of, without those that only
// what is stated beside them reads.
func (m *Model) Reads() []string { return m.core.features() }

// ReadsWindow tells whether the answers come from the window's samples and not
// from features alone.
func (m *Model) ReadsWindow() bool { return readsWindow(m.core) }

func readsWindow(c core) bool {
	switch c := c.(type) {
	case *Paired:
		return readsWindow(c.Bearing) || readsWindow(c.Height)
	case *corrected:
		return readsWindow(c.core)
	}
	_, is := c.(waiter)
	return is
}
