package main

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/eval"
	"strikerose/eval/tune"
	"strikerose/label"
	"strikerose/models"
)

type tuningFlags struct {
	selection
	fitFlags
	truth, detector, out string
	most                 tune.Cost
}

func newTune(a *app) *cobra.Command {
	var f tuningFlags
	cmd := &cobra.Command{
		Use:   "tune --detector NAME",
		Short: "Find a detector's best settings and what its features are worth",
		Long: `Try a detector's settings by cross-validation over whole sessions, and tell what
comes of the best on sessions that the search has not seen: the least of many
errors is smaller than the error to come. Then tell what each group of features is
worth, as the rise of the errors when the group's values come from another strike
of the session, turned to the same bearing; and what leaving features out costs,
the least worth their operations first. Operations are multiply-accumulates of one
strike at 1000 Hz, numbers are stored; what is stated beside an answer is not
counted. With -o the tuned detector is written, its features cut where --most-macs
or --most-numbers bound the cost.`,
		Example: `strikerose tune -C gym --detector k-nearest --within 60ms
strikerose tune -C gym --detector pendulum --most-macs 500 -o small.json`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "detector"); err != nil {
				return err
			}
			if err := oneOf(cmd, "truth", f.truth, eval.Truths()); err != nil {
				return err
			}
			if f.most.Macs < 0 || f.most.Numbers < 0 {
				return usagef(cmd, "--most-macs %d, --most-numbers %d: give numbers above 0", f.most.Macs, f.most.Numbers)
			}
			o, err := f.fitFlags.options(cmd, a.seed)
			if err != nil {
				return err
			}
			return runTune(cmd.Context(), a, f, o)
		},
	}
	f.selection.flags(cmd)
	f.fitFlags.flags(cmd)
	cmd.Flags().StringVar(&f.truth, "truth", label.Best, "the `TRUTH` to train on and score against: "+strings.Join(eval.Truths(), ", "))
	cmd.Flags().StringVar(&f.detector, "detector", "", "`NAME` of the detector (strikerose detectors lists them)")
	cmd.Flags().IntVar(&f.most.Macs, "most-macs", 0, "take features for at most this `NUMBER` of operations; 0 is any")
	cmd.Flags().IntVar(&f.most.Numbers, "most-numbers", 0, "likewise of stored numbers")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "write the tuned detector to this `FILE`")
	return cmd
}

func runTune(ctx context.Context, a *app, f tuningFlags, o models.Options) error {
	family, err := familyNamed(f.detector)
	if err != nil {
		return err
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
	p := a.progress("fitting", -1, false)
	report, err := tune.Of(ctx, examples, family, tune.Options{Fit: o, Progress: p}, f.most)
	p.Done()
	if err != nil {
		return err
	}
	if f.out != "" {
		d, err := family.Fit(ctx, examples, report.Take())
		if err != nil {
			return fmt.Errorf("tune: %w", err)
		}
		t := models.Training{Seed: a.seed, Sessions: trainedOn(data), Truth: f.truth, Tool: "strikerose " + version(), Why: report.Why(), Examples: len(examples)}
		if err := a.writeOutput(f.out, func(w io.Writer) error { return models.Save(w, d, t) }); err != nil {
			return err
		}
		a.note("%s", report.Why())
		if f.out == "-" {
			return nil
		}
		a.note("wrote %s", f.out)
	}
	if a.json {
		return printJSON(a.out, report)
	}
	return printTuning(a.out, report)
}

// printTuning writes the report's parts, each under a line that says what it is.
func printTuning(w io.Writer, r *tune.Report) error {
	fmt.Fprintf(w, "%s on %s of %s; intervals of %g %%\n", r.Detector, counted(r.Strikes, "strike"), counted(r.Sessions, "session"), 100*r.Level)
	if r.Search != nil {
		if err := printSearch(w, r.Search); err != nil {
			return err
		}
	}
	if len(r.Importance) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\nHow far the errors rise when a group's values come from another strike:\n\n")
	var rows [][]string
	for _, g := range r.Importance {
		rows = append(rows, []string{g.Name, degText(g.Rise.BearingMAEDeg), cmText(g.Rise.HeightMAEM), g.Doc})
	}
	if err := printTable(w, []string{"group", "bearing_deg", "height_cm", "what it is"}, rows); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nLeaving features out, errors on sessions held back; > marks the step to take:\n\n")
	rows = nil
	for k, s := range r.Path {
		mark, dropped := "", s.Dropped
		if k == r.Step {
			mark = ">"
		}
		if dropped == "" {
			dropped = "(all features)"
		}
		rows = append(rows, []string{mark, dropped, strconv.Itoa(len(s.Features)), strconv.Itoa(s.Cost.Macs), strconv.Itoa(s.Cost.Numbers),
			fixed(s.Cost.WaitMs, 0), degText(s.Errors.BearingMAEDeg), cmText(s.Errors.HeightMAEM), figureText(s.Errors.Criterion, 1, 3)})
	}
	return printTable(w, []string{"", "without", "features", "macs", "numbers", "wait_ms", "bearing_deg", "height_cm", "criterion"}, rows)
}

func printSearch(w io.Writer, s *tune.Searched) error {
	names := slices.Sorted(maps.Keys(s.Trials[0].Settings))
	fmt.Fprintf(w, "\nSettings tried, errors by cross-validation over sessions; > marks those to take,\nthe usual ones stand first:\n\n")
	var rows [][]string
	for k, t := range s.Trials {
		row := []string{""}
		if k == s.Best {
			row[0] = ">"
		}
		for _, n := range names {
			row = append(row, strconv.FormatFloat(t.Settings[n], 'g', 3, 64))
		}
		if t.Failed != "" {
			rows = append(rows, append(row, "-", "-", "-", t.Failed))
			continue
		}
		rows = append(rows, append(row, fixed(t.BearingMAEDeg, 2), fixed(100*t.HeightMAEM, 2), fixed(t.Criterion, 3)))
	}
	if err := printTable(w, slices.Concat([]string{""}, names, []string{"bearing_deg", "height_cm", "criterion"}), rows); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nOn sessions that neither search nor fit has seen:\n\n")
	line := func(name string, e tune.Errors) []string {
		return []string{name, degText(e.BearingMAEDeg), cmText(e.HeightMAEM), figureText(e.Criterion, 1, 3)}
	}
	return printTable(w, []string{"", "bearing_deg", "height_cm", "criterion"}, [][]string{line("best settings", s.Tuned), line("usual settings", s.Usual), line("gain", s.Gain)})
}

func degText(f eval.Figure) string { return figureText(f, 1, 2) }
func cmText(f eval.Figure) string  { return figureText(f, 100, 2) }

// figureText writes a figure times a factor with its interval.
func figureText(f eval.Figure, factor float64, decimals int) string {
	if !f.Known() {
		return "-"
	}
	s := fixed(factor*f.Value, decimals)
	if f.HasInterval() {
		s += fmt.Sprintf(" (%s to %s)", fixed(factor*f.Low, decimals), fixed(factor*f.High, decimals))
	}
	return s
}
