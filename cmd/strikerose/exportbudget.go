package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
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
	limits             cost.Budget // what those say, once read
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
	if err != nil || v <= 0 || v > math.MaxInt/factor {
		return 0, fmt.Errorf("%q is no amount: give a number such as 800, 16k or 1M", text)
	}
	return v * factor, nil
}

// read reads the limits and refuses a command line on which one is no amount.
func (b *budget) read(cmd *cobra.Command) error {
	for _, x := range []struct {
		name, text string
		by         int
		to         *int
	}{{"flash", b.flash, 1024, &b.limits.FlashBytes}, {"ram", b.ram, 1024, &b.limits.RAMBytes}, {"cycles", b.cycles, 1000, &b.limits.Work}} {
		n, err := amount(x.text, x.by)
		if err != nil {
			return usagef(cmd, "--%s: %v", x.name, err)
		}
		*x.to = n
	}
	return nil
}

// fits measures a bundle on the budget's target and refuses what does not fit,
// naming the rule nearest to it that does.
func (b budget) fits(ctx context.Context, r *rig.Rig, name, profile string, bundle *firmware.Bundle) (*cost.Cost, error) {
	target, err := emulate.Find(b.target)
	if err != nil {
		return nil, err
	}
	c, err := measureCost(ctx, target, bundle)
	if err != nil {
		return nil, err
	}
	over := strings.Join(b.limits.Over(c), "; ")
	if over == "" {
		return c, nil
	}
	// Rules need no labels: each can be tried, the ablest first.
	for _, other := range []string{"pendulum", "kick-direction", "peak-arctangent"} {
		if other == name {
			continue
		}
		if small, err := ruleBundle(ctx, other, r, profile); err == nil {
			if c, err := measureCost(ctx, target, small); err == nil && len(b.limits.Over(c)) == 0 {
				return nil, fmt.Errorf("export: %s does not fit: %s: %s fits: %d bytes of flash, %d of memory: train --detector %s",
					name, over, other, c.FlashBytes, c.MemoryBytes(), other)
			}
		}
	}
	return nil, fmt.Errorf("export: %s does not fit: %s: no rule fits either: give it more, or a lower rate_hz", name, over)
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
