package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/models/firmware"
)

type exportFlags struct{ detector, rig, out string }

func newExport(a *app) *cobra.Command {
	var f exportFlags
	cmd := &cobra.Command{
		Use:   "export --detector FILE.json --rig FILE -o DIR",
		Short: "Write a detector as a table and C code for the board",
		Long: `Write a detector as a coefficient table and C99 code for the board, with vectors
and a small program that checks the code against them. It can write ` + strings.Join(firmware.Detectors(), ", ") + `.
The code takes the features of one strike, uses no heap and computes in float32.
With -C the vectors are made of strikes of that corpus on this rig.`,
		Example: "strikerose export -C gym --detector ridge.json --rig hall.toml -o firmware",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "detector", "rig", "output"); err != nil {
				return err
			}
			return runExport(cmd.Context(), a, f, cmd.Flags().Changed("corpus"))
		},
	}
	cmd.Flags().StringVar(&f.detector, "detector", "", "the detector `FILE` that train wrote")
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` of the bag that the board hangs in")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `DIR`ectory to write to")
	return cmd
}

// exported is what export says.
type exported struct {
	Detector string   `json:"detector"`
	Rig      string   `json:"rig"`
	Files    []string `json:"files"`
	Notes    []string `json:"notes,omitempty"`
}

func runExport(ctx context.Context, a *app, f exportFlags, ofCorpus bool) error {
	d, err := loadDetector(f.detector)
	if err != nil {
		return err
	}
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	var inputs []features.Row
	if ofCorpus {
		if inputs, err = strikesOn(ctx, a, r); err != nil {
			return err
		}
	}
	bundle, err := firmware.Export(d, r, inputs, firmware.Options{Tool: "strikerose " + version()})
	if err != nil {
		return fmt.Errorf("%s: %w", f.detector, err)
	}
	if err := os.MkdirAll(f.out, 0o777); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	done := exported{Detector: d.Detector.Info().Name, Rig: r.Key(), Notes: bundle.Notes}
	for _, file := range bundle.Files {
		path := filepath.Join(f.out, file.Name)
		if err := a.writeOutput(path, func(w io.Writer) error {
			_, err := w.Write(file.Data)
			return err
		}); err != nil {
			return err
		}
		done.Files = append(done.Files, path)
	}
	if a.json {
		return printJSON(a.out, done)
	}
	for _, path := range done.Files {
		a.note("wrote %s", path)
	}
	for _, note := range done.Notes {
		a.note("%s", note)
	}
	return nil
}

// strikesOn returns the features of all strikes of the corpus on a rig.
func strikesOn(ctx context.Context, a *app, r *rig.Rig) ([]features.Row, error) {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return nil, err
	}
	sessions, err := c.Select([]string{r.Key()}, nil)
	if err != nil {
		return nil, err
	}
	var rows []features.Row
	for _, s := range sessions {
		windows, err := sessionWindows(ctx, c, s, eval.WholeWindow())
		if err != nil {
			return nil, err
		}
		for _, w := range windows {
			rows = append(rows, features.Extract(w, r, nil))
		}
	}
	return rows, nil
}
