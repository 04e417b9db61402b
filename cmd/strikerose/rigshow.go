package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/eval/advice"
	"strikerose/eval/report"
)

type rigShowFlags struct {
	svg, plots string
	options    advice.Options
}

func newRigShow(a *app) *cobra.Command {
	var f rigShowFlags
	cmd := &cobra.Command{
		Use:   "show FILE.toml [OTHER.toml]",
		Short: "Show what a rig can do, and how to better it",
		Long: `Show what follows from a rig file alone: the bag to scale, its free motions,
where its mass sits, the dead height (a blow there does not move the sensor, and
beyond it the first kick points the wrong way), the least error that any detector
can reach, and advice ranked by the strikes that it keeps from going wrong. With
two files, show what changes from one to the other.

--json writes {"version": 1, "key", "rig", "modes", "mass", "dead", "assumed",
"tolerance", "bands", "whole", "waits", "depths", "blow", "heights", "advice"},
for two files {"version": 1, "values", "before", "after"}: metres, seconds, hertz,
degrees, shares from 0 to 1, and null for what does not exist. Keys may be added;
the version is raised when one changes its meaning.`,
		Example: "strikerose rig show hall.toml --svg hall.svg",
		Args:    takes(1, 2, "the rig file to show"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.validate(cmd); err != nil {
				return err
			}
			if f.svg == "-" && a.json {
				return usagef(cmd, "--svg - and --json both want standard output: give one of them")
			}
			return runRigShow(cmd.Context(), a, f, args)
		},
	}
	cmd.Flags().StringVar(&f.svg, "svg", "", "draw the rig, for two files both, to this SVG `FILE`; - is standard output")
	cmd.Flags().StringVar(&f.plots, "plots", "", "write charts of the least errors to this `DIR` as SVG files, those of each rig under its name")
	cmd.Flags().Float64Var(&f.options.PeakForceN, "force", 0, "hold the sensor's ranges against a blow of this peak force in `N` (default a published mean)")
	cmd.Flags().Float64Var(&f.options.BearingToleranceDeg, "bearing-tolerance", 0, "the standard deviation in `DEGREES` that you can live with (default a quarter of a face)")
	cmd.Flags().Float64Var(&f.options.HeightToleranceM, "height-tolerance", 0, "likewise in `METRES` (default a quarter of the narrowest band)")
	return cmd
}

func (f *rigShowFlags) validate(cmd *cobra.Command) error {
	for _, x := range []struct {
		flag  string
		value float64
	}{{"force", f.options.PeakForceN}, {"bearing-tolerance", f.options.BearingToleranceDeg}, {"height-tolerance", f.options.HeightToleranceM}} {
		if cmd.Flags().Changed(x.flag) && !(x.value > 0 && x.value <= 1e6) {
			return usagef(cmd, "--%s is %g: give a number above 0", x.flag, x.value)
		}
	}
	return nil
}

func runRigShow(ctx context.Context, a *app, f rigShowFlags, paths []string) error {
	var rigs []*rig.Rig
	for _, path := range paths {
		r, err := rig.Load(path)
		if err != nil {
			return err
		}
		rigs = append(rigs, r)
	}
	if len(rigs) == 1 {
		s, err := advice.Of(ctx, rigs[0], f.options)
		if err != nil {
			return err
		}
		return a.showRig(f, s, []*advice.Sheet{s}, func(w io.Writer) error { return report.RigText(w, s) })
	}
	c, err := advice.Between(ctx, rigs[0], rigs[1], f.options)
	if err != nil {
		return err
	}
	return a.showRig(f, c, []*advice.Sheet{c.Before, c.After}, func(w io.Writer) error { return report.RigChangeText(w, c) })
}

// showRig writes the drawings that were asked for, then the value as JSON or as
// text.
func (a *app) showRig(f rigShowFlags, value any, sheets []*advice.Sheet, text func(io.Writer) error) error {
	if f.svg != "" {
		if err := a.writeOutput(f.svg, func(w io.Writer) error { return report.RigSVG(w, sheets...) }); err != nil {
			return err
		}
		if f.svg == "-" {
			return nil
		}
		a.note("wrote %s", f.svg)
	}
	if f.plots != "" {
		if err := a.plotRigs(f.plots, sheets); err != nil {
			return err
		}
	}
	if a.json {
		return printJSON(a.out, value)
	}
	if err := text(a.out); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "\n%s\n", cautions)
	return nil
}

// plotRigs writes the charts of each rig into a directory.
func (a *app) plotRigs(dir string, sheets []*advice.Sheet) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("rig show: %w", err)
	}
	for i, s := range sheets {
		name := s.Key
		if i > 0 && name == sheets[0].Key {
			name += "-other"
		}
		for _, c := range report.RigCharts(s) {
			path := filepath.Join(dir, name+"-"+c.Name+".svg")
			if err := a.writeOutput(path, c.Write); err != nil {
				return err
			}
			a.note("wrote %s", path)
		}
	}
	return nil
}
