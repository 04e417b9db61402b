package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/eval"
	"strikerose/eval/report"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/label"
	"strikerose/models"
)

type compareFlags struct {
	selection
	fewShotFlags
	detectors    []string
	leave        string
	truth, score string
	page, csv    string
	draw         []string
	figures      string
	goal         eval.Goal
	learning     []string
	drivers      bool
	rigToRig     bool
	rigAsked     bool // whether rigToRig was given
	within       time.Duration
	measure      string
}

func newCompare(a *app) *cobra.Command {
	var f compareFlags
	cmd := &cobra.Command{
		Use:   "compare",
		Short: "Compare the detectors on strikes that they have not seen",
		Long: `Compare the detectors by their error in bearing and height. Each is trained on
all sessions but those left out, and scored on those, so that none is judged on
what it has seen. Every figure carries its interval; ~ marks a detector that
cannot be told from the best one. Labels have errors of their own: the table
names the truth it used and the floor that this truth sets.

The verdict names the cheapest detector that puts 95 % of the strikes on the
right face and in the right band (--goal-faces, --goal-bands) in time (--within)
and in room (--goal-bytes), or says by how much it is missed and what would help.
Below stand what each detector costs, on what the errors depend, and the labels
that they come from; --learning says how many strikes are enough, --measure what
the code of each takes of a board.`,
		Example: "strikerose compare -C gym --truth timed --report compare.html --csv compare.csv",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.validate(cmd); err != nil {
				return err
			}
			f.rigAsked = cmd.Flags().Changed("rig-to-rig")
			return runCompare(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	f.fewShotFlags.flags(cmd)
	cmd.Flags().StringSliceVar(&f.detectors, "detectors", nil, "only these detectors: `NAME`s separated by commas (strikerose detectors lists them), BEARING+HEIGHT for the bearing of one and the height of another")
	cmd.Flags().StringVar(&f.leave, "leave", eval.LeaveSession, "`WHAT` to leave out at a time: "+strings.Join(eval.Leaves(), ", "))
	cmd.Flags().StringVar(&f.truth, "truth", label.Best, "the `TRUTH` to train on and score against: "+strings.Join(eval.Truths(), ", "))
	cmd.Flags().StringVar(&f.score, "score", "", "another `TRUTH` to score against")
	cmd.Flags().StringSliceVar(&f.learning, "learning", nil, "also train on ever more labels, of these detectors: `NAME`s separated by commas after =, the best two without (takes minutes)")
	cmd.Flags().Lookup("learning").NoOptDefVal = bestTwo
	cmd.Flags().BoolVar(&f.drivers, "drivers", false, "also tell how the errors of the best detector depend on each session of the training")
	cmd.Flags().BoolVar(&f.rigToRig, "rig-to-rig", false, "also leave out each rig with all its revisions; --report does so of two rigs or more unless this is false")
	cmd.Flags().DurationVar(&f.within, "within", 0, "every detector answers at most this `TIME` after the onset, such as 60ms")
	cmd.Flags().IntVar(&f.goal.Faces, "goal-faces", 0, "the verdict is about this `NUMBER` of equal faces; 0 is as many as the rig has")
	cmd.Flags().IntVar(&f.goal.Bands, "goal-bands", 0, "likewise of bands")
	cmd.Flags().IntVar(&f.goal.Bytes, "goal-bytes", 0, "the verdict allows at most this `NUMBER` of bytes of stored numbers; 0 is any")
	cmd.Flags().StringVar(&f.measure, "measure", "", "also export what a board can run and measure its flash, memory and work on this `BOARD` (takes a cross compiler and an emulator): "+strings.Join(boardNames(), ", "))
	cmd.Flags().StringVar(&f.page, "report", "", "write a page to this HTML `FILE`")
	cmd.Flags().StringVar(&f.figures, "figures", "", "write every figure of the page to this `DIR`, as figure-NAME.svg and its numbers as figure-NAME.csv")
	cmd.Flags().StringSliceVar(&f.draw, "draw", nil, "the detectors that page and figures draw: `NAMES` separated by commas, or all; the four of each rig that err least without")
	cmd.Flags().StringVar(&f.csv, "csv", "", "write every figure to this CSV `FILE`; - is standard output")
	return cmd
}

func (f *compareFlags) validate(cmd *cobra.Command) error {
	if err := oneOf(cmd, "leave", f.leave, eval.Leaves()); err != nil {
		return err
	}
	if err := f.goal.Check(); err != nil {
		return usagef(cmd, "%v", err)
	}
	if err := f.fewShotFlags.validate(cmd, f.leave); err != nil {
		return err
	}
	if _, err := f.learners(nil); err != nil {
		return err
	}
	for _, name := range f.draw {
		if name == report.DrawAll {
			continue
		}
		if _, err := familyNamed(name); err != nil {
			return err
		}
		if len(f.detectors) > 0 && !slices.Contains(f.detectors, name) {
			return usagef(cmd, "--draw %s: is not compared: name it in --detectors as well", name)
		}
	}
	if err := oneOf(cmd, "truth", f.truth, eval.Truths()); err != nil {
		return err
	}
	if f.measure != "" {
		if err := oneOf(cmd, "measure", f.measure, boardNames()); err != nil {
			return err
		}
	}
	if cmd.Flags().Changed("within") && f.within <= 0 {
		return usagef(cmd, "--within %v: give a time above 0, such as 60ms", f.within)
	}
	if f.score != "" {
		return oneOf(cmd, "score", f.score, eval.Truths())
	}
	return nil
}

// oneOf refuses a flag's value that is not among those allowed.
func oneOf(cmd *cobra.Command, flag, value string, allowed []string) error {
	if !slices.Contains(allowed, value) {
		return usagef(cmd, "--%s %q is unknown: give one of %s", flag, value, strings.Join(allowed, ", "))
	}
	return nil
}

func runCompare(ctx context.Context, a *app, f compareFlags) error {
	families, err := familiesNamed(f.detectors)
	if err != nil {
		return err
	}
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	data, err := a.examples(ctx, c, sessions, f.truth, f.score)
	if err != nil {
		return err
	}
	if len(f.labels) > 0 {
		return a.fewShots(ctx, data, families, f.fewShotFlags)
	}
	o := eval.Options{Leave: f.leave, Seed: a.seed, WithinMs: f.withinMs(), Goal: f.goal, RigFile: c.RigPath}
	if f.measure != "" {
		if o.Measured, err = a.measureBoards(ctx, data, families, f); err != nil {
			return err
		}
	}
	p := a.progress("training and scoring", -1, false)
	o.Progress = p
	comparison, err := eval.Compare(ctx, data, families, o)
	p.Done()
	if err != nil {
		return err
	}
	if len(f.learning) > 0 {
		if err := a.learn(ctx, data, comparison, f); err != nil {
			return err
		}
	}
	if f.drivers {
		if err := a.sessionEffects(ctx, data, comparison, f); err != nil {
			return err
		}
	}
	if err := a.rigToRig(ctx, data, families, comparison, &f); err != nil {
		return err
	}
	on, err := comparedOf(c, sessions)
	if err != nil {
		return err
	}
	meta := report.Meta{Draw: f.draw, Corpus: a.corpusName(), Contents: on.digest, Simulated: on.simulated, Tool: thisBuild().name(), Command: f.command(a.seed),
		Definitions: fmt.Sprintf("features %d, chain %d, with %s", features.Version, chain.Version, runtime.Version())}
	if f.page != "" {
		if err := a.writeOutput(f.page, func(w io.Writer) error { return report.HTML(w, comparison, meta) }); err != nil {
			return err
		}
		a.note("wrote %s", f.page)
	}
	if f.figures != "" {
		if err := a.writeFigures(f.figures, report.Figures(comparison, f.draw)); err != nil {
			return err
		}
	}
	if f.csv != "" {
		if err := a.writeOutput(f.csv, func(w io.Writer) error { return report.CSV(w, comparison) }); err != nil {
			return err
		}
		if f.csv == "-" {
			return nil
		}
		a.note("wrote %s", f.csv)
	}
	if a.json {
		return report.JSON(a.out, comparison, meta)
	}
	return report.Text(a.out, comparison)
}

// bestTwo stands for the two detectors that err least.
const bestTwo = "best"

// learn adds learning curves to a comparison.
func (a *app) learn(ctx context.Context, data *eval.Data, c *eval.Comparison, f compareFlags) error {
	families, err := f.learners(c.BestTwo())
	if err != nil {
		return err
	}
	for i := range families {
		families[i] = eval.Within(families[i], f.withinMs())
	}
	o := eval.LearningOptions{Seed: a.seed, Goal: f.goal}
	p := a.progress("learning", int64(eval.LearningFits(data, len(families), o)), false)
	defer p.Done()
	o.Progress = p
	curves, skipped, err := eval.Learn(ctx, data, families, o)
	if err != nil {
		return err
	}
	c.AddLearning(curves, skipped)
	return nil
}

// learners are the families to learn from ever more labels, given the two that
// err least.
func (f *compareFlags) learners(best []string) ([]models.Family, error) {
	if slices.Equal(f.learning, []string{bestTwo}) {
		return familiesNamed(best)
	}
	return familiesNamed(f.learning)
}

// sessionEffects adds how the best detector depends on each session.
func (a *app) sessionEffects(ctx context.Context, data *eval.Data, c *eval.Comparison, f compareFlags) error {
	best := c.BestTwo()
	if len(best) == 0 {
		return nil
	}
	family, err := familyNamed(best[0])
	if err != nil {
		return err
	}
	p := a.progress("leaving sessions out of training", int64(eval.SessionFits(data)), false)
	defer p.Done()
	effects, skipped, err := eval.SessionEffects(ctx, data, eval.Within(family, f.withinMs()), eval.Options{Seed: a.seed, Progress: p})
	if err != nil {
		return err
	}
	c.SessionEffects, c.Skipped = effects, append(c.Skipped, skipped...)
	return nil
}

// rigToRig adds how the detectors err on rigs that were left out: where asked for,
// and to a page wherever there are two rigs or more.
func (a *app) rigToRig(ctx context.Context, data *eval.Data, families []models.Family, c *eval.Comparison, f *compareFlags) error {
	fits := eval.RigToRigFits(data, len(families))
	if !f.rigAsked {
		f.rigToRig = f.page != "" && fits > 0
	}
	if !f.rigToRig || f.leave == eval.LeaveRig {
		return nil
	}
	p := a.progress("leaving rigs out", int64(fits), false)
	defer p.Done()
	rigs, skipped, err := eval.RigToRig(ctx, data, families, eval.Options{Seed: a.seed, WithinMs: f.withinMs(), Progress: p})
	if err != nil {
		return fmt.Errorf("--rig-to-rig: %w", err)
	}
	c.AddRigToRig(rigs, skipped)
	return nil
}

func (f *compareFlags) withinMs() float64 { return f.within.Seconds() * 1000 }

// command is the command line that makes the report again, without the places
// of files.
func (f *compareFlags) command(seed uint64) string {
	words := []string{"strikerose compare", "--leave", f.leave, "--truth", f.truth, "--seed", fmt.Sprint(seed)}
	add := func(flag string, values []string) {
		if len(values) > 0 {
			words = append(words, flag, strings.Join(values, ","))
		}
	}
	if f.score != "" {
		words = append(words, "--score", f.score)
	}
	add("--rigs", f.rigs)
	add("--sessions", f.sessions)
	add("--detectors", f.detectors)
	if f.measure != "" {
		words = append(words, "--measure", f.measure)
	}
	if f.within > 0 {
		words = append(words, "--within", f.within.String())
	}
	for _, n := range []struct {
		flag  string
		value int
	}{{"--goal-faces", f.goal.Faces}, {"--goal-bands", f.goal.Bands}, {"--goal-bytes", f.goal.Bytes}} {
		if n.value > 0 {
			words = append(words, n.flag, fmt.Sprint(n.value))
		}
	}
	if f.drivers {
		words = append(words, "--drivers")
	}
	if f.rigToRig || f.rigAsked {
		words = append(words, fmt.Sprintf("--rig-to-rig=%t", f.rigToRig))
	}
	add("--draw", f.draw)
	if len(f.learning) > 0 {
		words = append(words, "--learning="+strings.Join(f.learning, ","))
	}
	return strings.Join(words, " ")
}

// examples joins the strikes of sessions with the labels to train on and to
// score against.
func (a *app) examples(ctx context.Context, c *corpus.Corpus, sessions []dataset.Session, train, score string) (*eval.Data, error) {
	if score == "" {
		score = train
	}
	p := a.progress("finding strikes", int64(len(sessions)), false)
	defer p.Done()
	return eval.Examples(ctx, source{c}, sessions, eval.JoinOptions{TrainTruth: train, ScoreTruth: score, Progress: p})
}

// familiesNamed returns the families of these names, all for none.
func familiesNamed(names []string) ([]models.Family, error) {
	if len(names) == 0 {
		return models.Families(), nil
	}
	var out []models.Family
	for _, name := range names {
		f, err := familyNamed(name)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

func familyNamed(name string) (models.Family, error) {
	f, ok := models.FamilyByName(name)
	if !ok {
		return f, &usageError{fmt.Errorf("detector %q: is unknown: give one of %s, or two of them as BEARING+HEIGHT", name, strings.Join(models.Names(), ", "))}
	}
	return f, nil
}
