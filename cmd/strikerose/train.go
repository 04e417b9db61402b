package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/models"
)

// autoDetector is the name that has train pick a detector.
const autoDetector = "auto"

type trainFlags struct {
	selection
	fitFlags
	truth, detector, out string
	risk                 float64
}

func newTrain(a *app) *cobra.Command {
	var f trainFlags
	cmd := &cobra.Command{
		Use:   "train -o FILE.json",
		Short: "Train a detector and write it to a file",
		Long: `Train a detector on the labelled strikes of the corpus and write it to a file.
With auto, the detector is picked by cross-validation over whole sessions. A rule
learns only the turn of the sensor and how sure to be; without labels it is
written as it is. With --within no sample later than that after the onset is read;
auto allows 250 ms without it, and among detectors that it cannot tell apart takes
what a board can run, then what answers sooner.`,
		Example: `strikerose train -C gym -o auto.json
strikerose train -C gym --truth plan --detector complex-ridge -o ridge.json
strikerose train -C gym --detector complex-ridge --within 40ms --set pull=3 -o quick.json`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "output"); err != nil {
				return err
			}
			if err := oneOf(cmd, "truth", f.truth, eval.Truths()); err != nil {
				return err
			}
			if err := validRisk(cmd, f.risk); err != nil {
				return err
			}
			if f.out == "-" && a.json {
				return usagef(cmd, "--output - and --json both want standard output: give one of them")
			}
			o, err := f.fitFlags.options(cmd, a.seed)
			if err != nil {
				return err
			}
			if f.detector == autoDetector && len(f.set) > 0 {
				return usagef(cmd, "--set %s: settings belong to one detector: name it with --detector", f.set[0])
			}
			return runTrain(cmd.Context(), a, f, o)
		},
	}
	f.selection.flags(cmd)
	f.fitFlags.flags(cmd)
	cmd.Flags().StringVar(&f.truth, "truth", label.Best, "the `TRUTH` to train on: "+strings.Join(eval.Truths(), ", "))
	cmd.Flags().StringVar(&f.detector, "detector", autoDetector, "`NAME` of the detector (strikerose detectors lists them), BEARING+HEIGHT for the bearing of one and the height of another, or auto")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `FILE` to write; - is standard output")
	riskFlag(cmd, &f.risk)
	return cmd
}

// trained is what train did, in JSON.
type trained struct {
	Detector string   `json:"detector"`      // name of the detector
	Strikes  int      `json:"strikes"`       // how many strikes it was trained on, at least 0; 0 for a rule that no label corrects
	Sessions []string `json:"sessions"`      // names of the sessions they come from; empty for such a rule
	Truth    string   `json:"truth"`         // labels that were trained on, one of eval.Truths
	Why      string   `json:"why,omitempty"` // why it was picked; absent where it was named
	File     string   `json:"file"`          // path of the file that was written
}

func runTrain(ctx context.Context, a *app, f trainFlags, o models.Options) error {
	family := models.Family{}
	if f.detector != autoDetector {
		var err error
		if family, err = familyNamed(f.detector); err != nil {
			return err
		}
	}
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	data, err := a.examples(ctx, c, sessions, f.truth, f.truth)
	if err != nil {
		return err
	}
	examples := data.TrainingExamples()
	t := models.Training{Seed: a.seed, Sessions: trainedOn(data), Truth: f.truth, Tool: "strikerose " + version(), Examples: len(examples)}
	if t.Seen, err = a.looked(ctx, c, named(sessions, t.Sessions)); err != nil {
		return fmt.Errorf("train: %w", err)
	}
	var d models.Detector
	if f.detector == autoDetector {
		p := a.progress("picking a detector", -1, false)
		d, t.Why, err = eval.TrainAuto(ctx, data, models.Families(), eval.AutoOptions{Seed: a.seed, MaxWaitMs: o.WithinMs, Progress: p})
		p.Done()
	} else {
		if len(examples) == 0 && family.Kind == models.Fitted {
			return withHint(fmt.Errorf("train: no strike found has a %s to learn from", label.OfTruth(f.truth)), "strikerose label plan, or label truth, gives labels")
		}
		d, err = family.Fit(ctx, examples, o)
	}
	if err != nil {
		return fmt.Errorf("train: %w", err)
	}
	if d, err = atRisk(d, f.risk); err != nil {
		return fmt.Errorf("train: %w", err)
	}
	if err := a.writeOutput(f.out, func(w io.Writer) error { return models.Save(w, d, t) }); err != nil {
		return err
	}
	if a.json {
		return printJSON(a.out, trained{d.Info().Name, len(examples), t.Sessions, f.truth, t.Why, f.out})
	}
	if len(examples) == 0 {
		a.note("%s: no strike has a %s to learn from, so the rule is written as it is:", d.Info().Name, label.OfTruth(f.truth))
		a.note("bearings take yaw_deg of the rig file as right: what it is off by is in their")
		a.note("intervals as yaw_sd_deg says (3 degrees if it does not), and some labels tell")
	} else {
		a.note("%s: trained on %s of %s (truth: %s)", d.Info().Name, counted(len(examples), "strike"), counted(len(t.Sessions), "session"), f.truth)
	}
	if t.Why != "" {
		a.note("%s", t.Why)
	}
	if f.out != "-" {
		a.note("wrote %s", f.out)
	}
	return nil
}

// trainedOn names the sessions that gave labels to train on.
func trainedOn(data *eval.Data) []string {
	var names []string
	for _, count := range data.Counts {
		if count.Trained > 0 {
			names = append(names, count.Session)
		}
	}
	return names
}
