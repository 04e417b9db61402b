package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/cost"
	"strikerose/models/firmware/emulate"
)

// budget is what a board has to spare.
type budget struct {
	target             string
	flash, ram, cycles string
}

func (b budget) set() bool { return b.flash != "" || b.ram != "" || b.cycles != "" }

// amount reads a number such as 800, 16k or 1M, the letters counting by 1024 or, of
// cycles, by 1000.
func amount(text string, by int) (int, error) {
	if text == "" {
		return 0, nil
	}
	factor := 1
	n := strings.TrimRight(text, "kKmM")
	switch strings.ToLower(text[len(n):]) {
	case "":
	case "k":
		factor = by
	case "m":
		factor = by * by
	default:
		n = ""
	}
	v, err := strconv.Atoi(n)
	if err != nil || v <= 0 {
		return 0, fmt.Errorf("%q is no amount: give a number such as 800, 16k or 1M", text)
	}
	return v * factor, nil
}

// limits are the amounts; 0 for none.
type limits struct{ flash, ram, cycles int }

func (b budget) limits() (limits, error) {
	var l limits
	var errs [3]error
	l.flash, errs[0] = amount(b.flash, 1024)
	l.ram, errs[1] = amount(b.ram, 1024)
	l.cycles, errs[2] = amount(b.cycles, 1000)
	for i, name := range []string{"flash", "ram", "cycles"} {
		if errs[i] != nil {
			return l, fmt.Errorf("export: --%s: %w", name, errs[i])
		}
	}
	return l, nil
}

// over tells what does not fit, "" if all does. Memory counts the sample buffer
// and the stack.
func (l limits) over(c *cost.Cost) string {
	var out []string
	add := func(what string, need, have int, unit string) {
		if have > 0 && need > have {
			out = append(out, fmt.Sprintf("%d %s of %s, %d to spare", need, unit, what, have))
		}
	}
	add("flash", c.FlashBytes, l.flash, "bytes")
	add("memory", c.RAMBytes+c.StackBytes, l.ram, "bytes")
	add("work for one sample", max(c.WorstSample, c.WorstAnswer), l.cycles, c.Unit)
	return strings.Join(out, "; ")
}

// fits measures a bundle on the budget's target and refuses what does not fit,
// naming the rule nearest to it that does.
func (b budget) fits(ctx context.Context, r *rig.Rig, name, profile string, bundle *firmware.Bundle) (*cost.Cost, error) {
	l, err := b.limits()
	if err != nil {
		return nil, err
	}
	target, err := emulate.Find(b.target)
	if err != nil {
		return nil, err
	}
	c, err := measureCost(ctx, target, bundle)
	if err != nil {
		return nil, err
	}
	over := l.over(c)
	if over == "" {
		return c, nil
	}
	// Rules need no labels: each can be tried, the ablest first.
	for _, other := range []string{"pendulum", "kick-direction", "peak-arctangent"} {
		if other == name {
			continue
		}
		if small, err := ruleBundle(ctx, other, r, profile); err == nil {
			if c, err := measureCost(ctx, target, small); err == nil && l.over(c) == "" {
				return nil, fmt.Errorf("export: %s does not fit on %s: %s: %s fits: %d bytes of flash, %d of memory: train --detector %s",
					name, target.Name, over, other, c.FlashBytes, c.RAMBytes+c.StackBytes, other)
			}
		}
	}
	return nil, fmt.Errorf("export: %s does not fit on %s: %s: no rule fits either: give it more, or a lower rate_hz", name, target.Name, over)
}

func measureCost(ctx context.Context, t emulate.Target, b *firmware.Bundle) (*cost.Cost, error) {
	var files []cost.File
	for _, f := range b.Files {
		files = append(files, cost.File{Name: f.Name, Data: f.Data})
	}
	c, err := cost.Measure(ctx, t, files, b.Stream)
	if errors.Is(err, emulate.ErrMissing) {
		return nil, fmt.Errorf("export: a budget is measured, not guessed: %w", err)
	}
	return c, err
}

// ruleBundle exports a rule without labels.
func ruleBundle(ctx context.Context, name string, r *rig.Rig, profile string) (*firmware.Bundle, error) {
	f, ok := models.FamilyByName(name)
	if !ok {
		return nil, fmt.Errorf("no detector %s", name)
	}
	d, err := f.Fit(ctx, nil, models.Options{})
	if err != nil {
		return nil, err
	}
	return firmware.Export(ctx, &models.File{Detector: d}, r, firmware.Options{Profile: profile})
}
