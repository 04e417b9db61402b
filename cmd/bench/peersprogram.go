package main

import (
	"context"
	"fmt"
	"io"
)

// figure is a number without a peer.
type figure struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// helpRuns is how often the program is started to time its start.
const helpRuns = 20

// programFigures are the demo's time and memory, the program's size and how fast it
// starts.
func programFigures(ctx context.Context, w *workspace, runs int) ([]figure, error) {
	var demos, helps []usage
	for range runs {
		if err := w.clear("demo"); err != nil {
			return nil, err
		}
		u, err := runChild(ctx, w.program, "demo", "--quiet", w.path("demo"))
		if err != nil {
			return nil, err
		}
		demos = append(demos, u)
	}
	for range helpRuns {
		u, err := runChild(ctx, w.program, "--help")
		if err != nil {
			return nil, err
		}
		helps = append(helps, u)
	}
	demo, help := medians(demos), medians(helps)
	out := []figure{
		{fmt.Sprintf("strikerose demo, median of %d", runs), demo.WallS, "s"},
		{"  user and system", demo.CPUS, "s"},
		{"  peak resident", demo.PeakMB, "MB"},
		{fmt.Sprintf("strikerose --help, median of %d", helpRuns), 1e3 * help.WallS, "ms"},
		{"  peak resident", help.PeakMB, "MB"},
	}
	for _, b := range []struct{ name, flags string }{{"program, stripped", "-s -w"}, {"program, not stripped", ""}} {
		path := w.path("sized")
		if err := build(ctx, path, b.flags); err != nil {
			return nil, err
		}
		size, err := sizeOf(path)
		if err != nil {
			return nil, err
		}
		out = append(out, figure{b.name, float64(size) / 1e6, "MB"})
	}
	return out, w.clear("demo", "sized")
}

func printFigures(w io.Writer, figures []figure) {
	if len(figures) > 0 {
		fmt.Fprintln(w)
	}
	for _, f := range figures {
		fmt.Fprintf(w, "%-40s %8.3g %s\n", f.Name, f.Value, f.Unit)
	}
}
