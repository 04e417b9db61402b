package main

import (
	"context"
	"slices"

	"github.com/spf13/cobra"
	"strikerose/eval"
	"strikerose/eval/report"
	"strikerose/models"
)

// fewShotFlags are compare's flags for carrying detectors to rigs left out.
type fewShotFlags struct{ labels []int }

func (f *fewShotFlags) flags(cmd *cobra.Command) {
	cmd.Flags().IntSliceVar(&f.labels, "labels", nil, "with --leave rig: adapt each detector to the rig left out with these `NUMBERS` of its labelled strikes, separated by commas")
}

func (f *fewShotFlags) validate(cmd *cobra.Command, leave string) error {
	if !cmd.Flags().Changed("labels") {
		return nil
	}
	if leave != eval.LeaveRig {
		return usagef(cmd, "--labels goes with --leave rig: give both")
	}
	for i, k := range f.labels {
		if k < 0 {
			return usagef(cmd, "--labels %d: give 0 or more", k)
		}
		if slices.Contains(f.labels[:i], k) {
			return usagef(cmd, "--labels names %d twice: give each number once", k)
		}
	}
	for _, other := range []string{"csv", "report", "figures", "learning", "drivers", "measure", "within", "goal-faces", "goal-bands", "goal-bytes"} {
		if cmd.Flags().Changed(other) {
			return usagef(cmd, "--labels and --%s do not go together: leave one of them out", other)
		}
	}
	return nil
}

// fewShots prints how well detectors answer on rigs left out of their training,
// adapted with few labels.
func (a *app) fewShots(ctx context.Context, data *eval.Data, families []models.Family, f fewShotFlags) error {
	p := a.progress("carrying detectors to other rigs", -1, false)
	rows, skipped, err := eval.FewShots(ctx, data, families, eval.FewShotOptions{Labels: f.labels, Seed: a.seed, Progress: p})
	p.Done()
	if err != nil {
		return err
	}
	for _, s := range skipped {
		a.warn("compare: left out: %s: %s: %s", s.Detector, s.Where, s.Why)
	}
	if a.json {
		return printJSON(a.out, rows)
	}
	return report.FewShotText(a.out, rows)
}
