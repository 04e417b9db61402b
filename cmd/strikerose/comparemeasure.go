package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/emulate"
)

// measureBoards exports every detector that a board can run, trained on all labels,
// and measures it on a target; of several rigs the dearest counts. What cannot be
// exported is warned of and has no figures.
func (a *app) measureBoards(ctx context.Context, data *eval.Data, families []models.Family, f compareFlags) (map[string]eval.Measured, error) {
	target, err := emulate.Find(f.measure)
	if err != nil {
		return nil, err
	}
	var rigs []*rig.Rig
	for _, c := range data.Cases {
		if !slices.ContainsFunc(rigs, func(r *rig.Rig) bool { return r.Key() == c.Rig.Key() }) {
			rigs = append(rigs, c.Rig)
		}
	}
	families = slices.DeleteFunc(slices.Clone(families), func(f models.Family) bool { return !f.Board })
	p := a.progress("measuring on "+target.Name, int64(len(families)*len(rigs)), false)
	defer p.Done()
	out := map[string]eval.Measured{}
	for _, family := range families {
		d, err := family.Fit(ctx, data.TrainingExamples(), models.Options{Seed: a.seed, WithinMs: f.withinMs()})
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			a.warn("compare: %s is not measured: %v", family.Name, err)
			continue
		}
		for _, r := range rigs {
			one, err := measureBoard(ctx, target, d, r)
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if errors.Is(err, emulate.ErrMissing) {
				return nil, fmt.Errorf("compare: --measure: %w", err)
			}
			if err != nil {
				a.warn("compare: %s is not measured on rig %s: %v", family.Name, r.Key(), err)
			} else if all, ok := out[family.Name]; ok {
				out[family.Name] = all.Dearest(one)
			} else {
				out[family.Name] = one
			}
			p.Add(1)
		}
	}
	return out, nil
}

// measureBoard measures one detector for one rig, in integers.
func measureBoard(ctx context.Context, t emulate.Target, d models.Detector, r *rig.Rig) (eval.Measured, error) {
	bundle, err := firmware.Export(ctx, &models.File{Detector: d}, r, firmware.Options{Profile: firmware.Fixed})
	if err != nil {
		return eval.Measured{}, err
	}
	c, err := measureCost(ctx, t, bundle)
	if err != nil {
		return eval.Measured{}, err
	}
	memory, work := c.MemoryBytes(), c.Worst()
	return eval.Measured{Target: c.Target, Unit: c.Unit, FlashBytes: &c.FlashBytes, RAMBytes: &memory, Work: &work}, nil
}

func boardNames() []string {
	var names []string
	for _, t := range emulate.Targets() {
		names = append(names, t.Name)
	}
	return names
}
