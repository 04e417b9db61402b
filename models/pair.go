package models

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Paired takes the bearing from one detector and the height from another.
type Paired struct {
	Bearing core `json:"bearing"`
	Height  core `json:"height"`
}

// pairSign joins the names of a pair, the bearing's first.
const pairSign = "+"

// The settings of a pair are those of its halves, each with its half before it.
const (
	ofBearing = "bearing."
	ofHeight  = "height."
)

// Pair is the family that takes the bearing of one family and the height of
// another. It fits both, each by its own forms and settings, and what is stated
// beside an answer is stated by the half that gives it. It waits for the longer
// of both and costs both. A family paired with itself is that family.
func Pair(bearing, height Family) Family {
	if bearing.Name == height.Name {
		return bearing
	}
	f := Family{Info: pairInfo(bearing.Info, height.Info), Settings: pairSettings(bearing.Settings, height.Settings)}
	f.Fit = func(ctx context.Context, ex []Example, o Options) (Detector, error) {
		d, err := fitPair(ctx, bearing, height, ex, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
		return d, nil
	}
	return f
}

func pairInfo(bearing, height Info) Info {
	kind := Rule
	if bearing.Kind == Fitted || height.Kind == Fitted {
		kind = Fitted
	}
	return Info{
		Name: bearing.Name + pairSign + height.Name, Kind: kind,
		Doc:       fmt.Sprintf("bearing of %s, height of %s", bearing.Name, height.Name),
		Gives:     []string{"bearing", "height"},
		NeedsGyro: bearing.NeedsGyro || height.NeedsGyro, UsesGyro: bearing.UsesGyro || height.UsesGyro,
		WaitMs: math.Max(bearing.WaitMs, height.WaitMs), GyroWaitMs: math.Max(bearing.Wait(true), height.Wait(true)),
		Cost:     bearing.Cost.plus(height.Cost),
		NotBoard: "no C is written yet for two detectors in one; complex-ridge or cart can be exported",
	}
}

// plus is the cost of both.
func (c Cost) plus(o Cost) Cost { return Cost{Macs: c.Macs + o.Macs, Numbers: c.Numbers + o.Numbers} }

func pairSettings(bearing, height []Setting) []Setting {
	var out []Setting
	for _, half := range []struct {
		of       string
		settings []Setting
	}{{ofBearing, bearing}, {ofHeight, height}} {
		for _, s := range half.settings {
			s.Name = half.of + s.Name
			out = append(out, s)
		}
	}
	return out
}

// half returns the options with the settings of one half alone.
func (o Options) half(of string) Options {
	all := o.Settings
	o.Settings = map[string]float64{}
	for name, v := range all {
		if own, ok := strings.CutPrefix(name, of); ok {
			o.Settings[own] = v
		}
	}
	return o
}

func fitPair(ctx context.Context, bearing, height Family, ex []Example, o Options) (*Model, error) {
	if !slices.Contains(height.Gives, "height") {
		return nil, fmt.Errorf("%s gives no height: pair %s with a detector that does", height.Name, bearing.Name)
	}
	settings := pairSettings(bearing.Settings, height.Settings)
	o, err := o.settled(settings)
	if err != nil {
		return nil, err
	}
	b, err := fitHalf(ctx, bearing, ex, o.half(ofBearing))
	if err != nil {
		return nil, err
	}
	h, err := fitHalf(ctx, height, ex, o.half(ofHeight))
	if err != nil {
		return nil, err
	}
	m := &Model{
		options: o, core: &Paired{Bearing: b.core, Height: h.core},
		prior: b.prior.withHeight(h.prior), blind: b.blind.withHeight(h.blind),
		Rigs: slices.Clone(b.Rigs), Certainty: b.Certainty.withHeight(h.Certainty),
	}
	for i := range m.Rigs {
		y, _ := find(h.Rigs, m.Rigs[i].Rig)
		m.Rigs[i].HeightFactor = y.HeightFactor
	}
	if len(b.Scores) > 0 && len(h.Scores) > 0 {
		s := b.Scores[0]
		s.Form, s.HeightMAEM = s.Form+pairSign+h.Scores[0].Form, h.Scores[0].HeightMAEM
		m.Scores = []Score{s}
	}
	m.info = recipe{info: pairInfo(bearing.Info, height.Info)}.describe(m.core, o.WithinMs, m.Certainty)
	return m, nil
}

func fitHalf(ctx context.Context, f Family, ex []Example, o Options) (*Model, error) {
	d, err := f.Fit(ctx, ex, o)
	if err != nil {
		return nil, err
	}
	m, ok := d.(*Model)
	if !ok {
		return nil, fmt.Errorf("%T is not one of this program's detectors, and cannot be paired", d)
	}
	if _, ok := m.core.(*Paired); ok {
		return nil, fmt.Errorf("%s is a pair already", f.Name)
	}
	return m, nil
}

// withHeight takes from another certainty what it states of heights.
func (c Certainty) withHeight(o Certainty) Certainty {
	if c.How != o.How {
		c.How = "bearing: " + c.How + "; height: " + o.How
	}
	c.Calibrated = c.Calibrated && o.Calibrated
	c.HeightSDM, c.HeightHalf90M, c.HeightDifficulty = o.HeightSDM, o.HeightHalf90M, o.HeightDifficulty
	return c
}

func (p *Paired) answer(in Input) (complex128, float64, bool) {
	q, h, _, whole := p.tell(in)
	return q, h, whole
}

// tell tells of the bearing what the one half does, and of the height what the
// other does.
func (p *Paired) tell(in Input) (complex128, float64, doubt, bool) {
	q, _, d, whole := ask(p.Bearing, in)
	_, h, other, also := ask(p.Height, in)
	d.height = other.height
	return q, h, d, whole && also
}

func (p *Paired) features() []string { return union(p.Bearing.features(), p.Height.features()) }

func (p *Paired) cost() Cost { return p.Bearing.cost().plus(p.Height.cost()) }

// blind tells that either half misses rotation rates. Where nothing was measured,
// both are then stated as widely as without them.
func (p *Paired) blind(gyro bool) bool { return p.Bearing.blind(gyro) || p.Height.blind(gyro) }

func (p *Paired) needsGyro() bool { return needsGyro(p.Bearing) || needsGyro(p.Height) }

func (p *Paired) waitMs(gyro bool) float64 {
	var ms float64
	for _, c := range []core{p.Bearing, p.Height} {
		if w, ok := c.(waiter); ok {
			ms = math.Max(ms, w.waitMs(gyro))
		}
	}
	return ms
}

// recipeByName finds the recipe of a family or of a pair of two.
func recipeByName(name string) (recipe, bool) {
	bearing, height, pair := strings.Cut(name, pairSign)
	b, ok := listedRecipe(bearing)
	if !ok || !pair {
		return b, ok
	}
	h, ok := listedRecipe(height)
	return pairRecipe(b, h), ok && bearing != height
}

func listedRecipe(name string) (recipe, bool) {
	all := recipes()
	if i := slices.IndexFunc(all, func(r recipe) bool { return r.info.Name == name }); i >= 0 {
		return all[i], true
	}
	return recipe{}, false
}

// pairRecipe opens the files of pairs, and fits a form of each half.
func pairRecipe(bearing, height recipe) recipe {
	return recipe{
		info:  pairInfo(bearing.info, height.info),
		prior: bearing.prior.withHeight(height.prior), blind: bearing.blind.withHeight(height.blind),
		settings: pairSettings(bearing.settings, height.settings),
		candidates: func(ex []Example, o Options) []candidate {
			var out []candidate
			for _, b := range bearing.candidates(ex, o.half(ofBearing)) {
				for _, h := range height.candidates(ex, o.half(ofHeight)) {
					out = append(out, pairCandidate(b, h))
				}
			}
			return out
		},
		decode: func(data []byte) (core, error) {
			var raw struct {
				Bearing json.RawMessage `json:"bearing"`
				Height  json.RawMessage `json:"height"`
			}
			if err := strict(data, &raw); err != nil {
				return nil, err
			}
			if raw.Bearing == nil || raw.Height == nil {
				return nil, errors.New("a half of the pair is missing")
			}
			b, err := bearing.decode(raw.Bearing)
			if err != nil {
				return nil, fmt.Errorf("bearing: %w", err)
			}
			h, err := height.decode(raw.Height)
			if err != nil {
				return nil, fmt.Errorf("height: %w", err)
			}
			return &Paired{Bearing: b, Height: h}, nil
		},
	}
}

// pairCandidate fits one form of each half. Its errors are independent of the
// labels' where those of both are.
func pairCandidate(bearing, height candidate) candidate {
	return candidate{
		name:  bearing.name + pairSign + height.name,
		lands: bearing.lands && height.lands,
		fit: func(ctx context.Context, ex []Example, seed uint64) (core, error) {
			b, err := bearing.fit(ctx, ex, seed)
			if err != nil {
				return nil, err
			}
			h, err := height.fit(ctx, ex, seed)
			if err != nil {
				return nil, err
			}
			return &Paired{Bearing: b, Height: h}, nil
		},
	}
}
