package tune

import (
	"context"
	"fmt"
	"maps"
	"math"

	"strikerose/eval"
	"strikerose/models"
)

// Trial is one choice of settings with its errors by cross-validation over the
// sessions that it was tried on. Failed says why there is none.
type Trial struct {
	Settings      map[string]float64 `json:"settings"`        // values by the name of the setting
	BearingMAEDeg float64            `json:"bearing_mae_deg"` // mean size of the bearing error by cross-validation over sessions, degrees, in [0, 180]
	HeightMAEM    float64            `json:"height_mae_m"`    // mean size of the height error likewise, metres, at least 0
	// Criterion is what settings are picked by: the bearing error in halves of a face
	// plus the height error in halves of a band, at least 0.
	Criterion float64 `json:"criterion"`
	Failed    string  `json:"failed,omitempty"` // why there are no errors; absent where there are

	model *models.Model
}

// Searched is what a search found.
type Searched struct {
	Detector string  `json:"detector"` // name of the detector
	Strikes  int     `json:"strikes"`  // how many labelled strikes there were, at least 0
	Sessions int     `json:"sessions"` // how many sessions they come from, at least 0
	Trials   []Trial `json:"trials"`   // every choice of settings with its errors on all sessions, the usual settings first
	Best     int     `json:"best"`     // position in trials of the settings to take, from 0, at least 0
	Tuned    Errors  `json:"tuned"`    // errors of the best settings on sessions that neither the search nor the fit has seen
	Usual    Errors  `json:"usual"`    // errors of the usual settings on the same sessions
	Gain     Errors  `json:"gain"`     // usual less tuned, strike by strike
	// Chosen are the settings that the search took without each group of sessions in turn:
	// where they differ, the choice is an accident of the sessions.
	Chosen []map[string]float64 `json:"chosen"`
}

// Settings are those to take.
func (s *Searched) Settings() map[string]float64 { return s.Trials[s.Best].Settings }

// worthFrom is the part of the criterion by which other settings than the usual
// ones must be better: less is luck among so many.
const worthFrom = 0.02

// Search tries a family's settings. What it tries is the grid of all values that
// the family says are worth it, up to mostPoints of them; of a larger grid only
// the lines through the usual settings, and the best values of the lines together.
// Settings that the examples' rigs have no use for, and those given in
// Options.Fit, stay.
func Search(ctx context.Context, ex []models.Example, f models.Family, o Options) (*Searched, error) {
	o = o.withDefaults()
	ex = inOrder(ex)
	folds, err := foldsOf(ex, o.Folds)
	if err != nil {
		return nil, err
	}
	g := newGrid(f, ex, o.Fit)
	if len(g.axes) == 0 {
		return nil, fmt.Errorf("tune: %s: %w", f.Name, ErrNoSettings)
	}
	sets := [][]models.Example{ex}
	for _, x := range folds {
		sets = append(sets, x.train)
	}
	points := g.points()
	trials := make([][]Trial, len(sets))
	for s := range trials {
		trials[s] = make([]Trial, len(points))
	}
	try := func(s int, settings map[string]float64) (Trial, error) {
		defer o.done()
		return tryOut(ctx, f, sets[s], o.Fit, settings)
	}
	err = eval.Parallel(ctx, len(sets)*len(points), o.Workers, func(i int) (err error) {
		s, p := i/len(points), i%len(points)
		trials[s][p], err = try(s, points[p])
		return err
	})
	if err != nil {
		return nil, err
	}
	if !g.whole() {
		err = eval.Parallel(ctx, len(sets), o.Workers, func(s int) error {
			together := g.together(trials[s])
			if together == nil {
				return nil
			}
			t, err := try(s, together)
			trials[s] = append(trials[s], t)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return judge(ex, folds, trials, f, o)
}

// judge picks the best trial of each set of sessions, and measures those of the
// folds on what they have not seen.
func judge(ex []models.Example, folds []fold, trials [][]Trial, f models.Family, o Options) (*Searched, error) {
	out := &Searched{Detector: f.Name, Strikes: len(ex), Sessions: sessions(ex), Trials: trials[0]}
	var err error
	if out.Best, err = best(trials[0]); err != nil {
		return nil, err
	}
	tuned, usual, gain := newLosses(len(ex)), newLosses(len(ex)), newLosses(len(ex))
	for k, x := range folds {
		of := trials[k+1]
		b, err := best(of)
		if err != nil {
			return nil, err
		}
		out.Chosen = append(out.Chosen, of[b].Settings)
		for _, i := range x.test {
			tuned.put(i, of[b].model.Estimate(ex[i].Input), ex[i])
			usual.put(i, of[0].model.Estimate(ex[i].Input), ex[i])
			gain.bearingDeg[i] = usual.bearingDeg[i] - tuned.bearingDeg[i]
			gain.heightM[i] = usual.heightM[i] - tuned.heightM[i]
			gain.criterion[i] = usual.criterion[i] - tuned.criterion[i]
		}
	}
	seed := o.Fit.Seed
	out.Tuned, out.Usual, out.Gain = tuned.errors(ex, seed, "tuned"), usual.errors(ex, seed, "usual"), gain.errors(ex, seed, "gain")
	return out, nil
}

// tryOut fits with some settings. The errors are those of the fit's own
// cross-validation over whole sessions.
func tryOut(ctx context.Context, f models.Family, ex []models.Example, o models.Options, settings map[string]float64) (Trial, error) {
	t := Trial{Settings: settings}
	o.Settings = settings
	m, err := fit(ctx, f, ex, o)
	switch {
	case ctx.Err() != nil:
		return t, ctx.Err()
	case err != nil:
		t.Failed = err.Error()
		return t, nil
	case len(m.Scores) == 0:
		t.Failed = "too few labels to hold any back"
		return t, nil
	}
	t.model = m
	t.BearingMAEDeg, t.HeightMAEM = m.Scores[0].BearingMAEDeg, m.Scores[0].HeightMAEM
	for _, x := range ex { // on the mean of the rigs
		t.Criterion += criterionOf(t.BearingMAEDeg, t.HeightMAEM, x) / float64(len(ex))
	}
	return t, nil
}

// best is the position of the trial to take: the first, unless another is better
// by worthFrom.
func best(trials []Trial) (int, error) {
	if trials[0].Failed != "" {
		return 0, fmt.Errorf("tune: with the usual settings: %s", trials[0].Failed)
	}
	at, least := 0, (1-worthFrom)*trials[0].Criterion
	for k, t := range trials {
		if t.Failed == "" && t.Criterion < least {
			at, least = k, t.Criterion
		}
	}
	return at, nil
}

// mostPoints is how large a grid is tried as a whole.
const mostPoints = 12

// grid is what to try of a family's settings.
type grid struct {
	axes  []models.Setting
	usual map[string]float64 // of every axis, and what is given
}

func newGrid(f models.Family, ex []models.Example, given models.Options) *grid {
	gyro, none := false, false
	for _, x := range ex {
		gyro, none = gyro || x.Rig.HasGyro(), none || !x.Rig.HasGyro()
	}
	g := &grid{usual: maps.Clone(given.Settings)}
	if g.usual == nil {
		g.usual = map[string]float64{}
	}
	for _, s := range f.Settings {
		if _, stays := given.Settings[s.Name]; stays || s.NeedsGyro && !gyro || s.NoGyro && !none || len(s.Try) < 2 {
			continue
		}
		g.axes = append(g.axes, s)
		g.usual[s.Name] = s.Usual
	}
	return g
}

// whole tells whether the grid is small enough to be tried as a whole.
func (g *grid) whole() bool {
	n := 1
	for _, s := range g.axes {
		n *= len(s.Try)
	}
	return n <= mostPoints || len(g.axes) == 1
}

// points lists what to try, the usual settings first.
func (g *grid) points() []map[string]float64 {
	out := []map[string]float64{g.usual}
	for _, s := range g.axes {
		from := out[:1]
		if g.whole() {
			from = out
		}
		var more []map[string]float64
		for _, p := range from {
			for _, v := range s.Try {
				if v != s.Usual {
					more = append(more, with(p, s.Name, v))
				}
			}
		}
		out = append(out, more...)
	}
	return out
}

// together joins the best value of each line; nil where at most one differs from
// the usual, which has been tried.
func (g *grid) together(trials []Trial) map[string]float64 {
	out := g.usual
	moved := 0
	for _, s := range g.axes {
		least, v := math.Inf(1), s.Usual
		for _, t := range trials {
			if t.Failed == "" && t.Criterion < least && g.onLine(t.Settings, s.Name) {
				least, v = t.Criterion, t.Settings[s.Name]
			}
		}
		if v != s.Usual {
			out = with(out, s.Name, v)
			moved++
		}
	}
	if moved < 2 {
		return nil
	}
	return out
}

// onLine tells whether settings are the usual ones but for one.
func (g *grid) onLine(settings map[string]float64, name string) bool {
	return maps.Equal(with(settings, name, g.usual[name]), g.usual)
}

func with(settings map[string]float64, name string, v float64) map[string]float64 {
	out := maps.Clone(settings)
	out[name] = v
	return out
}

func sessions(ex []models.Example) int {
	seen := map[string]bool{}
	for _, x := range ex {
		seen[x.Session] = true
	}
	return len(seen)
}
