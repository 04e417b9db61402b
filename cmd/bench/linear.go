package main

import (
	"context"
	"fmt"
	"math"

	"github.com/spf13/cobra"
)

func newLinear(a *app) *cobra.Command {
	var most int64
	cmd := &cobra.Command{
		Use:   "linear",
		Short: "Tell time and memory of import and find against the number of samples",
		Long: `Import and find sessions of 100,000 samples, ten times as many, and so on, up to
--most, and fit the exponents with which time and memory grow: 1 is in
proportion, 0 not at all. Time and memory are of whole processes, so that small
sessions have a part that does not grow.`,
		Example: "go run ./cmd/bench linear --most 10000000",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if most < leastSamples*10 {
				return usagef("linear: give --most of %d or more", leastSamples*10)
			}
			return a.in(cmd.Context(), func(w *workspace) error { return a.linear(cmd.Context(), w, most) })
		},
	}
	cmd.Flags().Int64Var(&most, "most", 100_000_000, "`N` samples of the longest session")
	return cmd
}

// leastSamples are those of the shortest session.
const leastSamples = 100_000

// grows is one command at each number of samples.
type grows struct {
	Command string    `json:"command"`
	Samples []float64 `json:"samples"`
	Usage   []usage   `json:"usage"`

	// Exponents of a power of the number of samples, by least squares of logarithms.
	Wall   float64 `json:"wall_exponent"`
	CPU    float64 `json:"cpu_exponent"`
	Memory float64 `json:"memory_exponent"`
}

func (a *app) linear(ctx context.Context, w *workspace, most int64) error {
	r, err := a.recordingOf(ctx, w, "counts-csv")
	if err != nil {
		return err
	}
	imports, finds := &grows{Command: "import"}, &grows{Command: "find"}
	for n := int64(leastSamples); n <= most; n *= 10 {
		a.note("%d samples ...", n)
		if err := w.clear("corpus"); err != nil {
			return err
		}
		u, kept, err := w.importStream(ctx, r, w.path("corpus"), "--records", fmt.Sprint(n))
		if err != nil {
			return err
		}
		imports.add(kept, u)
		if u, err = runChild(ctx, w.program, "find", "--quiet", "-C", w.path("corpus")); err != nil {
			return err
		}
		finds.add(kept, u)
	}
	if err := w.clear("corpus"); err != nil {
		return err
	}
	all := []*grows{imports, finds}
	for _, g := range all {
		g.Wall = exponent(g.Samples, g.Usage, func(u usage) float64 { return u.WallS })
		g.CPU = exponent(g.Samples, g.Usage, func(u usage) float64 { return u.CPUS })
		g.Memory = exponent(g.Samples, g.Usage, func(u usage) float64 { return u.PeakMB })
	}
	if a.json {
		return a.printJSON(all)
	}
	fmt.Fprintf(a.out, "Repeated: %s.\n\n%-8s %12s %9s %9s %9s %9s %8s\n", r.origin(), "command", "samples", "time s", "ns/sample", "CPU s", "ns/sample", "peak MB")
	for _, g := range all {
		for i, u := range g.Usage {
			fmt.Fprintf(a.out, "%-8s %12.0f %9.3f %9.0f %9.3f %9.0f %8.0f\n", g.Command, g.Samples[i], u.WallS, 1e9*u.WallS/g.Samples[i], u.CPUS, 1e9*u.CPUS/g.Samples[i], u.PeakMB)
		}
		fmt.Fprintf(a.out, "%-8s %12s %9.2f %9s %9.2f %9s %8.2f\n\n", g.Command, "exponent", g.Wall, "", g.CPU, "", g.Memory)
	}
	return nil
}

func (g *grows) add(samples int64, u usage) {
	g.Samples, g.Usage = append(g.Samples, float64(samples)), append(g.Usage, u)
}

// exponent fits y = c n^p and returns p.
func exponent(n []float64, us []usage, y func(usage) float64) float64 {
	var sx, sy, sxx, sxy float64
	for i := range n {
		lx, ly := math.Log(n[i]), math.Log(y(us[i]))
		sx, sy, sxx, sxy = sx+lx, sy+ly, sxx+lx*lx, sxy+lx*ly
	}
	k := float64(len(n))
	return (k*sxy - sx*sy) / (k*sxx - sx*sx)
}
