package main

import (
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/models"
)

// fitFlags steer how a detector is fitted.
type fitFlags struct {
	within time.Duration
	set    []string
}

func (f *fitFlags) flags(cmd *cobra.Command) {
	cmd.Flags().DurationVar(&f.within, "within", 0, "answer at most this `TIME` after the onset, such as 60ms")
	cmd.Flags().StringArrayVar(&f.set, "set", nil, "a setting of the detector as `NAME=VALUE`, once for each (strikerose tune finds good ones)")
}

// options are those of a fit. A time that is none and a setting that is no number
// are wrong usage; the family judges the rest.
func (f *fitFlags) options(cmd *cobra.Command, seed uint64) (models.Options, error) {
	o := models.Options{Seed: seed}
	if cmd.Flags().Changed("within") && f.within <= 0 {
		return o, usagef(cmd, "--within %v: give a time above 0, such as 60ms", f.within)
	}
	o.WithinMs = f.within.Seconds() * 1000
	for _, s := range f.set {
		name, text, ok := strings.Cut(s, "=")
		v, err := strconv.ParseFloat(text, 64)
		if !ok || err != nil {
			return o, usagef(cmd, "--set %q: give NAME=VALUE with a number as the value", s)
		}
		if o.Settings == nil {
			o.Settings = map[string]float64{}
		}
		if _, twice := o.Settings[name]; twice {
			return o, usagef(cmd, "--set %s: given twice", name)
		}
		o.Settings[name] = v
	}
	return o, nil
}
