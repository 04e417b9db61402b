package main

import (
	"context"
	"os"

	"github.com/spf13/cobra"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
)

// newFill is run by many as a process of its own.
func newFill(*app) *cobra.Command {
	var f manyFlags
	var rigFile string
	cmd := &cobra.Command{
		Use:    "fill DIR LOG",
		Short:  "Write a corpus of many sessions by repeating a log's samples",
		Hidden: true,
		Args:   cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			return fill(cmd.Context(), args[0], args[1], rigFile, f)
		},
	}
	cmd.Flags().IntVar(&f.sessions, "sessions", 0, "")
	cmd.Flags().Int64Var(&f.samples, "samples", 0, "")
	cmd.Flags().StringVar(&rigFile, "rig", "", "")
	return cmd
}

// fill repeats the samples of a log, each session from another place of it on, and
// keeps no log: the corpus is for opening and finding.
func fill(ctx context.Context, dir, log, rigFile string, f manyFlags) error {
	rg, err := rig.Load(rigFile)
	if err != nil {
		return err
	}
	row, sig, err := decode(ctx, log, rg)
	if err != nil {
		return err
	}
	c, err := corpus.OpenOrCreate(dir)
	if err != nil {
		return err
	}
	if err := c.PutRig(rg); err != nil {
		return err
	}
	row.Rig, row.LogSHA256 = rg.Key(), ""
	long := repeated(sig, int(f.samples))
	for i := range f.sessions {
		row.Name = manyName(i)
		row.Samples, row.Records, row.Segments = f.samples, f.samples, 1
		row.DurationS = float64(long.TNs[long.Len()-1]) / 1e9
		if err := c.PutSession(ctx, row, long, false); err != nil {
			return err
		}
	}
	return nil
}

// repeated is a signal of n samples in one segment: those of sig again and again, one
// step apart.
func repeated(sig *dataset.Signal, n int) *dataset.Signal {
	out := &dataset.Signal{TNs: make([]int64, n), TRaw: make([]int64, n), Segment: make([]int32, n)}
	for k := range 3 {
		out.A[k] = make([]float32, n)
		if sig.HasGyro() {
			out.G[k] = make([]float32, n)
		}
	}
	m := sig.Len()
	stepNs := (sig.TNs[m-1] - sig.TNs[0]) / int64(m-1)
	stepRaw := (sig.TRaw[m-1] - sig.TRaw[0]) / int64(m-1)
	for i := range n {
		at, turn := i%m, int64(i/m)
		out.TNs[i] = sig.TNs[at] - sig.TNs[0] + turn*(sig.TNs[m-1]-sig.TNs[0]+stepNs)
		out.TRaw[i] = sig.TRaw[at] + turn*(sig.TRaw[m-1]-sig.TRaw[0]+stepRaw)
		for k := range 3 {
			out.A[k][i] = sig.A[k][at]
			if sig.HasGyro() {
				out.G[k][i] = sig.G[k][at]
			}
		}
	}
	return out
}

// decode reads a log as import does.
func decode(ctx context.Context, log string, rg *rig.Rig) (dataset.Session, *dataset.Signal, error) {
	f, err := os.Open(log)
	if err != nil {
		return dataset.Session{}, nil, err
	}
	defer f.Close()
	res, err := intake.Read(ctx, f, log, rg, intake.Options{}, nil)
	if err != nil {
		return dataset.Session{}, nil, err
	}
	return res.Session, &res.Signal, nil
}
