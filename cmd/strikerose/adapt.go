package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/models"
)

type adaptFlags struct {
	selection
	detector, rig, truth, out string
	simulated                 int
	board                     bool
}

func newAdapt(a *app) *cobra.Command {
	var f adaptFlags
	cmd := &cobra.Command{
		Use:   "adapt --detector FILE.json --rig FILE -o OUT.json",
		Short: "Carry a detector to another rig with few labels of it",
		Long: `Carry a detector to a rig that it was not trained on: another bag, or the same
after its sensor or core was moved. Without labelled strikes of that rig its file
alone decides what answers; some six tell how far the sensor is turned, and from
12 and 24 on heights and bearings are corrected. Labelled strikes of other rigs in
the corpus help where they are told to help. What is chosen is what answers best
on strikes that were held back. Label strikes on every face and in every band.

--simulated adds strikes simulated from the rig file to learn from. They are never
counted as labels, the file says how many there were, and they are used only where
held-back recorded strikes are answered better with them.`,
		Example: `strikerose train -C evening-demo/corpus --rigs hall,garage-r1 --truth timed --detector complex-ridge -o before.json
strikerose adapt -C evening-demo/corpus --detector before.json --rig evening-demo/rigs/after.toml --truth timed --simulated 120 -o after.json`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "detector", "rig", "output"); err != nil {
				return err
			}
			if err := oneOf(cmd, "truth", f.truth, eval.Truths()); err != nil {
				return err
			}
			if f.simulated < 0 || f.simulated > mostSimulated {
				return usagef(cmd, "--simulated %d: give 0 to %d", f.simulated, mostSimulated)
			}
			if f.out == "-" && a.json {
				return usagef(cmd, "--output - and --json both want standard output: give one of them")
			}
			return runAdapt(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().StringVar(&f.detector, "detector", "", "the detector `FILE` that train wrote")
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` to carry it to")
	cmd.Flags().StringVar(&f.truth, "truth", label.Best, "the `TRUTH` to learn from: "+strings.Join(eval.Truths(), ", "))
	cmd.Flags().IntVar(&f.simulated, "simulated", 0, "also try what `N` simulated strikes of the rig teach")
	cmd.Flags().BoolVar(&f.board, "board", false, "keep to what export can write for a board")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `FILE` to write; - is standard output")
	return cmd
}

// adaptation is what adapt says.
type adaptation struct {
	Rig           string   `json:"rig"`            // key of the rig adapted to, NAME-rREV
	Detector      string   `json:"detector"`       // name of the detector that was written
	Labels        int      `json:"labels"`         // how many labelled strikes of that rig there were, at least 0
	Sessions      []string `json:"sessions"`       // names of the sessions that hold them
	OtherLabels   int      `json:"other_labels"`   // how many labelled strikes of other rigs and revisions there were, at least 0
	Simulated     int      `json:"simulated"`      // how many simulated strikes were offered, at least 0
	SimulatedUsed bool     `json:"simulated_used"` // whether they are in the detector
	// SimulatedGain is the share of the error on held-back recorded strikes that simulated
	// strikes take off, below 0 where they add to it; null where it was not measured.
	SimulatedGain *float64       `json:"simulated_gain"`
	OthersGain    *float64       `json:"others_gain"` // likewise the share that labels of other rigs and revisions take off; null where it was not measured
	Chosen        models.Trial   `json:"chosen"`      // what answers, and how it is corrected
	Trials        []models.Trial `json:"trials"`      // what was tried on held-back strikes; empty where there are too few labels to choose by
	YawDeg        float64        `json:"yaw_deg"`     // turn of the sensor on top of the rig file, degrees clockwise, in (-180, 180]
	YawSDDeg      float64        `json:"yaw_sd_deg"`  // how far that turn may be off, a standard deviation in degrees, at least 0
	// YawFrom is what that turn was learned from: one of models.YawNone, models.YawOwn,
	// models.YawEarlier or models.YawBoth.
	YawFrom   string            `json:"yaw_from"`
	Revisions []models.Revision `json:"revisions"` // what differs from each other revision of the rig that the corpus holds
}

func runAdapt(ctx context.Context, a *app, f adaptFlags) error {
	d, err := loadDetector(f.detector)
	if err != nil {
		return err
	}
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	to := models.Target{Rig: r, Board: f.board}
	if to.Earlier, err = rigsBefore(c, r); err != nil {
		return err
	}
	data, err := a.examples(ctx, c, sessions, f.truth, f.truth)
	if err != nil {
		return err
	}
	said := adaptation{Rig: r.Key(), Sessions: []string{}}
	for _, e := range data.TrainingExamples() {
		if e.Rig.Key() != r.Key() {
			to.Others = append(to.Others, e)
			continue
		}
		to.Own = append(to.Own, e)
		if !slices.Contains(said.Sessions, e.Session) {
			said.Sessions = append(said.Sessions, e.Session)
		}
	}
	if f.simulated > 0 {
		if to.Simulated, err = eval.Simulated(ctx, r, f.simulated, a.seed); err != nil {
			return fmt.Errorf("adapt: %w", err)
		}
	}
	p := a.progress("adapting", -1, false)
	made, err := models.Adapt(ctx, d.Detector, to, a.seed)
	p.Done()
	if err != nil {
		return err
	}
	said.Labels, said.OtherLabels, said.Simulated = len(to.Own), len(to.Others), len(to.Simulated)
	said.Detector, said.Chosen, said.Trials = made.Detector.Info().Name, made.Chosen, made.Trials
	said.SimulatedUsed, said.SimulatedGain, said.OthersGain = made.Chosen.Simulated, measured(made.SimulatedGain), measured(made.OthersGain)
	said.YawDeg, _ = made.Detector.YawDeg(r.Key())
	said.YawSDDeg, said.YawFrom = made.YawSDDeg, made.YawFrom
	for _, b := range to.Earlier {
		if b.Name == r.Name {
			said.Revisions = append(said.Revisions, models.Between(b, r))
		}
	}
	t := d.Training
	t.Seed, t.Truth, t.Tool = a.seed, f.truth, "strikerose "+version()
	t.Sessions = slices.Concat(t.Sessions, said.Sessions)
	t.Examples += len(to.Own)
	t.Unlabelled = slices.DeleteFunc(slices.Clone(t.Unlabelled), func(key string) bool { return key == r.Key() })
	if len(to.Own) == 0 {
		t.Unlabelled = append(t.Unlabelled, r.Key())
	}
	if said.SimulatedUsed {
		t.Simulated = len(to.Simulated)
	}
	t.Why = strings.Join(said.words()[:1], " ")
	seen, err := a.looked(ctx, c, named(sessions, said.Sessions))
	if err != nil {
		return fmt.Errorf("adapt: %w", err)
	}
	t.Seen = slices.Concat(t.Seen, seen)
	if err := a.writeOutput(f.out, func(w io.Writer) error { return models.Save(w, made.Detector, t) }); err != nil {
		return err
	}
	if a.json {
		return printJSON(a.out, said)
	}
	for _, words := range slices.Concat(said.changes(), said.words(), said.next()) {
		a.note("%s", words)
	}
	if f.out != "-" {
		a.note("wrote %s", f.out)
	}
	if len(to.Own) < models.AdaptsFully {
		a.note("%s", cautions)
	}
	return nil
}

// rigsBefore are the corpus's other rigs. A rig that it holds under the same key
// must say the same as the file.
func rigsBefore(c *corpus.Corpus, r *rig.Rig) ([]*rig.Rig, error) {
	var out []*rig.Rig
	all, err := c.Rigs()
	if err != nil {
		return nil, err
	}
	for _, held := range all {
		switch {
		case held.Key() != r.Key():
			out = append(out, held)
		case !held.Equal(r):
			return nil, fmt.Errorf("adapt: the corpus holds another rig %s (%s): raise the revision in the rig file, or give the one of the corpus", r.Key(), rig.Diff(held, r)[0])
		}
	}
	return out, nil
}

// measured is nil for what was not.
func measured(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// changes says what differs from earlier revisions, and what follows.
func (s adaptation) changes() []string {
	var out []string
	for _, r := range s.Revisions {
		out = append(out, fmt.Sprintf("from %s to %s:", r.Before, r.After))
		for _, c := range r.Changed {
			out = append(out, "  "+c)
		}
		for _, e := range r.Effects {
			before, after := "none", "none"
			if e.Before != nil {
				before = fmt.Sprintf("%.3f", *e.Before)
			}
			if e.After != nil {
				after = fmt.Sprintf("%.3f %s", *e.After, e.Unit)
			}
			if before != "none" || after != "none" {
				out = append(out, strings.TrimRight(fmt.Sprintf("  %s: %s before, %s", e.Name, before, after), " "))
			}
		}
		switch {
		case r.SameMount && r.SameShape:
			out = append(out, "  by their geometry, labels of before help with the turn of the sensor and with the rest")
		case r.SameMount:
			out = append(out, "  by their geometry, labels of before help with the turn of the sensor only")
		default:
			out = append(out, "  the sensor is mounted otherwise: labels of before say nothing of its turn")
		}
	}
	return out
}

// words says what was done.
func (s adaptation) words() []string {
	out := []string{fmt.Sprintf("%s: adapted to %s with %s of %s (%s)",
		s.Detector, s.Rig, counted(s.Labels, "labelled strike"), counted(len(s.Sessions), "session"), s.Chosen.Base)}
	out = append(out, fmt.Sprintf("turn of the sensor: %+.1f deg on top of the rig file, known to %.1f deg (standard deviation; from: %s)", s.YawDeg, s.YawSDDeg, s.YawFrom))
	if s.Labels >= models.AdaptsHeights {
		out = append(out, fmt.Sprintf("besides, bearings are %s, heights %s", formWords(s.Chosen.Bearing), formWords(s.Chosen.Height)))
	}
	for _, t := range s.Trials {
		mark := ""
		if t.Chosen {
			mark = ", chosen"
		}
		out = append(out, fmt.Sprintf("  %s (%s): held-back strikes are off by %.1f deg and %.1f cm%s", t.Base, t.Detector, t.Score.BearingMAEDeg, 100*t.Score.HeightMAEM, mark))
	}
	if s.Simulated > 0 {
		switch {
		case s.SimulatedGain == nil:
			out = append(out, "the simulated strikes are not used: too few recorded labels to measure whether they help")
		case !s.SimulatedUsed:
			out = append(out, "the simulated strikes are not used: on held-back recorded strikes they do not help")
		default:
			out = append(out, fmt.Sprintf("%d SIMULATED strikes are used: they take %.0f %% off the error on held-back recorded strikes", s.Simulated, 100**s.SimulatedGain))
		}
	}
	if s.OtherLabels > 0 && s.OthersGain != nil {
		if *s.OthersGain > 0 {
			out = append(out, fmt.Sprintf("labels of other rigs and revisions help: they take %.0f %% off the error on held-back strikes", 100**s.OthersGain))
		} else {
			out = append(out, "labels of other rigs and revisions do not help any more, by held-back strikes")
		}
	}
	return out
}

// formWords says how a form corrects.
func formWords(form string) string {
	switch form {
	case models.FormYaw:
		return "left as they are"
	case models.FormLine:
		return "shifted and stretched"
	case models.FormPooled:
		return "corrected, starting from what other rigs taught"
	case models.FormSimulated:
		return "corrected, starting from what simulated strikes taught"
	}
	return "corrected by how the bag moves after the blow"
}

// next says what more labels would do.
func (s adaptation) next() []string {
	for _, n := range []struct {
		labels int
		gain   string
	}{
		{models.AdaptsYaw, "tell the turn of the sensor, and choose what answers by held-back strikes"},
		{models.AdaptsHeights, "correct heights too, and state a measured certainty"},
		{models.AdaptsFully, "correct bearings too"},
	} {
		if s.Labels < n.labels {
			words := fmt.Sprintf("%s more, on every face and in every band, would %s", counted(n.labels-s.Labels, "labelled strike"), n.gain)
			if s.Labels > 0 {
				words += fmt.Sprintf("; the turn would be known to about %.1f deg", s.YawSDDeg*math.Sqrt(float64(s.Labels)/float64(n.labels)))
			}
			return []string{words}
		}
	}
	return nil
}
