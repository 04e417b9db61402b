package tune

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/models"
)

// Options steers what this package measures.
type Options struct {
	Fit      models.Options // seed, wait, features and settings to start from
	Folds    int            // of whole sessions, each held back once; 0 is 5
	Workers  int            // fits at once; 0 is the number of processors
	Progress eval.Progress  // told of each fit
}

func (o Options) withDefaults() Options {
	if o.Folds == 0 {
		o.Folds = 5
	}
	return o
}

func (o Options) done() {
	if o.Progress != nil {
		o.Progress.Add(1)
	}
}

// Cost is what an answer takes. Macs and Numbers are of the features and the detector
// together (multiply-accumulate operations at 1000 Hz; stored numbers, an
// accumulator for each column of a feature among them).
type Cost struct {
	Macs    int     `json:"macs"`    // multiply-accumulate operations of features and detector together at 1000 Hz, at least 0
	Numbers int     `json:"numbers"` // how many numbers both store, accumulators among them, at least 0
	WaitMs  float64 `json:"wait_ms"` // how long after the onset it listens, milliseconds, at least 0
}

// Errors are mean errors on strikes of sessions that were held back. Criterion is
// that of eval.Criterion, by which detectors are picked.
type Errors struct {
	BearingMAEDeg eval.Figure `json:"bearing_mae_deg"` // mean size of the bearing error, degrees
	HeightMAEM    eval.Figure `json:"height_mae_m"`    // mean size of the height error, metres
	// Criterion is what detectors are picked by: the bearing error in halves of a face
	// plus the height error in halves of a band.
	Criterion eval.Figure `json:"criterion"`
}

// losses are one number a strike: sizes of both errors, and the criterion.
type losses struct {
	bearingDeg, heightM, criterion []float64
}

func newLosses(n int) losses {
	return losses{make([]float64, n), make([]float64, n), make([]float64, n)}
}

// put scores an answer to a strike.
func (l losses) put(i int, e models.Estimate, x models.Example) {
	l.bearingDeg[i] = math.Abs(bearing.Diff(e.BearingDeg, x.BearingDeg))
	l.heightM[i] = math.Abs(e.HeightM - x.HeightM)
	l.criterion[i] = criterionOf(l.bearingDeg[i], l.heightM[i], x)
}

func criterionOf(bearingDeg, heightM float64, x models.Example) float64 {
	return eval.Criterion(bearingDeg, heightM, x.Rig.Faces, max(len(x.Rig.Bands), 1), x.Rig.Bag.LengthM)
}

// errors are the means, under a name of their own.
func (l losses) errors(ex []models.Example, seed uint64, name string) Errors {
	sessions := make([]string, len(ex))
	for i, x := range ex {
		sessions[i] = x.Session
	}
	mean := func(what string, values []float64) eval.Figure {
		return eval.Mean(values, sessions, seed, "tune "+name+" "+what)
	}
	return Errors{mean("bearing", l.bearingDeg), mean("height", l.heightM), mean("criterion", l.criterion)}
}

// fold is one way to hold sessions back.
type fold struct {
	train []models.Example
	test  []int // positions in all examples
}

// foldsOf parts the examples by whole sessions. It is an error where there are
// fewer than two, or labels of nothing.
func foldsOf(ex []models.Example, n int) ([]fold, error) {
	if len(ex) == 0 {
		return nil, errors.New("tune: no labelled strikes: label sessions first")
	}
	items := make([]eval.Item, len(ex))
	for i, x := range ex {
		items[i] = eval.Item{Session: x.Session}
	}
	splits, err := eval.Folds(items, n)
	if err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	out := make([]fold, len(splits))
	for f, s := range splits {
		for _, i := range s.Train {
			out[f].train = append(out[f].train, ex[i])
		}
		out[f].test = s.Test
	}
	return out, nil
}

// inOrder returns the examples by session; within one, their order is kept.
func inOrder(ex []models.Example) []models.Example {
	out := slices.Clone(ex)
	slices.SortStableFunc(out, func(a, b models.Example) int { return cmp.Compare(a.Session, b.Session) })
	return out
}

// modelOf gives what only this program's own detectors tell of themselves.
func modelOf(d models.Detector) (*models.Model, error) {
	m, ok := d.(*models.Model)
	if !ok {
		return nil, fmt.Errorf("tune: %s does not tell its features", d.Info().Name)
	}
	return m, nil
}

// fit fits a family and gives the detector with what it tells of itself.
func fit(ctx context.Context, f models.Family, ex []models.Example, o models.Options) (*models.Model, error) {
	d, err := f.Fit(ctx, ex, o)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	return modelOf(d)
}

// ErrNoSettings and ErrNoFeatures say that a family has nothing of the kind that
// could be tuned.
var (
	ErrNoSettings = errors.New("no setting of it matters on these rigs")
	ErrNoFeatures = errors.New("it reads the samples themselves and not features")
)

func errNoFeatures(name string) error { return fmt.Errorf("tune: %s: %w", name, ErrNoFeatures) }
