package models

import (
	"context"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/rig"
)

// base is one thing that may answer.
type base struct {
	name      string
	simulated bool   // fitted on simulated strikes too
	others    bool   // on those of other rigs too
	model     *Model // fitted with all there is
	// again fits it with these own strikes; nil where it does not learn from them.
	again func(ctx context.Context, own []Example) (*Model, error)
}

// basesFor lists what may answer on the target, what stands without labels
// first. A detector that would only guess there is none of it.
func basesFor(ctx context.Context, m *Model, to Target, seed uint64) ([]base, error) {
	out := []base{{name: BaseTrained, model: m}}
	if m.info.Kind == Rule {
		return out, nil
	}
	if m.info.NeedsGyro && !to.Rig.HasGyro() {
		out = nil // it would guess
	}
	if b, ok := rigFileBase(ctx, m, to, seed); ok {
		if m.suits(to.Rig) {
			out = append(out, b)
		} else {
			out = append([]base{b}, out...)
		}
	}
	none := func() error {
		return fmt.Errorf("%s learned from rotation rates, rig %s has no gyroscope, and nothing else can answer there: give another detector", m.info.Name, to.Rig.Key())
	}
	if len(to.Own) < leastToChoose {
		if len(out) == 0 {
			return nil, none()
		}
		return out[:1], nil
	}
	add := func(name string, simulated []Example) error {
		again := func(ctx context.Context, own []Example) (*Model, error) {
			return m.again(ctx, own, slices.Concat(to.Others, simulated), seed)
		}
		made, err := again(ctx, to.Own)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err == nil { // a family that cannot be fitted so is no base
			out = append(out, base{name: name, simulated: len(simulated) > 0, others: len(to.Others) > 0, model: made, again: again})
		}
		return nil
	}
	if len(to.Others) > 0 || len(to.Own) >= againFrom {
		if err := add(BaseAgain, nil); err != nil {
			return nil, err
		}
	}
	if len(to.Simulated) > 0 && len(to.Own) >= leastToCorrect {
		if err := add(BaseSimulated, to.Simulated); err != nil {
			return nil, err
		}
	}
	if len(out) == 0 {
		return nil, none()
	}
	return out, nil
}

// again fits the detector's own form on strikes of the target, each counted
// ownWeight times, among others. Its certainty is that of the detector given:
// held-back strikes of the target set it right.
func (m *Model) again(ctx context.Context, own, others []Example, seed uint64) (*Model, error) {
	r, ok := recipeByName(m.info.Name)
	if !ok {
		return nil, fmt.Errorf("%s is not a family", m.info.Name)
	}
	times := ownWeight
	if len(others) == 0 {
		times = 1
	}
	ex := slices.Clone(others)
	for range times {
		ex = append(ex, own...)
	}
	ex, err := checked(ex)
	if err != nil {
		return nil, err
	}
	list := r.candidates(ex, m.options)
	if len(list) == 0 {
		return nil, fmt.Errorf("%s has no form for so few strikes", m.info.Name)
	}
	form := list[len(list)-1]
	for _, s := range slices.Backward(m.Scores) { // the chosen one stands first
		for _, c := range list {
			if c.name == s.Form {
				form = c
			}
		}
	}
	made, err := form.fit(ctx, ex, seed)
	if err != nil {
		return nil, err
	}
	out := *m
	out.core, out.Rigs = made, yaws(ex, together(made, ex))
	return &out, nil
}

// suits tells whether a fitted detector is kept on a rig that none of its labels
// is of.
func (m *Model) suits(r *rig.Rig) bool {
	from, to := math.Inf(1), math.Inf(-1)
	for _, y := range m.Rigs {
		if y.Constants.RadiusOfGyrationM > 0 {
			from, to = math.Min(from, y.Constants.geometry()), math.Max(to, y.Constants.geometry())
		}
	}
	g := ConstantsOf(r).geometry()
	mute := m.info.NeedsGyro && !r.HasGyro()
	return !mute && !m.core.blind(r.HasGyro()) && g >= from-outsideSuits && g <= to+outsideSuits
}

// rigFileBase is what answers from the rig file alone within the wait of m.
func rigFileBase(ctx context.Context, m *Model, to Target, seed uint64) (base, bool) {
	name := "physics"
	if to.Board {
		name = "pendulum"
	}
	f, ok := FamilyByName(name)
	if !ok || f.NeedsGyro && !to.Rig.HasGyro() {
		return base{}, false
	}
	for _, e := range to.Own {
		if e.Window == nil && name == "physics" {
			return base{}, false
		}
	}
	d, err := f.Fit(ctx, nil, Options{Seed: seed, WithinMs: m.options.WithinMs, Only: m.options.Only})
	if err != nil {
		return base{}, false // it would wait for too long
	}
	return base{name: BaseRigFile, model: d.(*Model)}, true
}
