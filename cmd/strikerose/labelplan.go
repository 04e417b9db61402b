package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/shell"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/label/plan"
)

type labelPlanFlags struct {
	session, author string
	anticlockwise   bool
}

func newLabelPlan(a *app) *cobra.Command {
	var f labelPlanFlags
	cmd := &cobra.Command{
		Use:   "plan --session NAME PLAN.csv",
		Short: "Lay an ordered plan without times over the strikes found",
		Long: `Lay an ordered plan without times over the strikes found in a session. PLAN.csv
has the columns order, face, band, kind and, if you like, pair (one and two of a
double hit) and call_s (when the strike was called out, seconds on any clock; the
page of label serve notes them). Strikes may have been missed or added, and the
sensor may be turned: each strike gets its entry only where the order leaves no
doubt. label serve shows those in doubt beside the traces, to be labelled by hand.`,
		Example: `strikerose label plan -C gym --session monday monday-plan.csv
strikerose label plan -C gym --session friday friday-plan.csv`,
		Args: takes(1, 1, "the plan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "session"); err != nil {
				return err
			}
			return runLabelPlan(cmd.Context(), a, f, args[0])
		},
	}
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session")
	cmd.Flags().StringVar(&f.author, "author", "", "`ID` of who made the plan (the session's striker)")
	cmd.Flags().BoolVar(&f.anticlockwise, "anticlockwise", false, "accept a plan whose faces were numbered anticlockwise")
	return cmd
}

// planned is what label plan says.
type planned struct {
	Session   string `json:"session"`       // name of the session
	Entries   int    `json:"entries"`       // how many strikes the plan has, at least 0
	Strikes   int    `json:"strikes"`       // how many strikes were found, at least 0
	Labelled  int    `json:"labelled"`      // how many of those got their entry, at least 0
	Ambiguous int    `json:"ambiguous"`     // how many of those are in doubt and got none, at least 0
	Extra     int    `json:"extra"`         // how many of those are not in the plan, at least 0
	Missed    int    `json:"missed"`        // how many entries were not found, at least 0
	Written   int    `json:"journal_lines"` // how many lines were added to the label journal, at least 0
	Sense     int    `json:"sense"`         // sense of the plan's faces: +1 clockwise, -1 anticlockwise, in [-1, 1]

	// TurnDeg is how far the pushes are turned against the plan's faces, degrees
	// clockwise, in (-180, 180]; half a turn means no more than that most pushes point
	// toward the strike.
	TurnDeg float64 `json:"turn_deg"`
}

func runLabelPlan(ctx context.Context, a *app, f labelPlanFlags, path string) error {
	c, s, r, err := a.openOne(f.session)
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("label plan: %w", err)
	}
	defer file.Close()
	entries, err := plan.Read(file, path, r)
	if err != nil {
		return err
	}
	return locked(c, s.Name, func() error {
		strikes, _, err := c.Strikes(s.Name)
		if err != nil {
			return err
		}
		windows, err := sessionWindows(ctx, c, s, eval.WholeWindow())
		if err != nil {
			return err
		}
		if !sameStrikes(windows, strikes) {
			return fmt.Errorf("label plan: session %s: its strikes were found by another finder: run strikerose find %s first", s.Name, shell.Line("-C", a.dir, "--sessions", s.Name))
		}
		alignment, err := plan.Align(ctx, entries, eval.PlanFinds(windows, r), plan.Options{Faces: r.Faces, Seed: a.seed, Anticlockwise: f.anticlockwise})
		if err != nil {
			err = fmt.Errorf("%s: %w", path, err)
			if errors.Is(err, plan.ErrAnticlockwise) {
				err = withHint(err, "--anticlockwise renumbers such a plan")
			}
			return err
		}
		at, err := a.labelTime()
		if err != nil {
			return err
		}
		o := label.Origin{Session: s.Name, Source: label.Plan, Author: author(f.author, s), At: at}
		written, err := a.revise(ctx, c, s, o, alignment.Claims(entries, strikes, r.Faces))
		if err != nil {
			return err
		}
		done := planned{Session: s.Name, Entries: len(entries), Strikes: len(strikes), Missed: len(alignment.Missed),
			Written: written, Sense: alignment.Sense, TurnDeg: alignment.OffsetDeg}
		for _, find := range alignment.Finds {
			switch find.State {
			case plan.Labelled:
				done.Labelled++
			case plan.Ambiguous:
				done.Ambiguous++
			case plan.Extra:
				done.Extra++
			}
		}
		if alignment.OtherFace(r.Faces) {
			way := "clockwise"
			if alignment.OffsetDeg < 0 {
				way = "anticlockwise"
			}
			a.warn("label plan: %s: the strikes lie %.0f degrees %s of the plan's faces: either the sensor sits turned so, which yaw_deg in the rig file may say and training learns, or the plan counts its faces from another one: correct it and give it again", path, math.Abs(alignment.OffsetDeg), way)
		}
		if a.json {
			return printJSON(a.out, done)
		}
		if !a.quiet {
			fmt.Fprintf(a.out, "session %s: %s planned, %d found\n  %d labelled, %d in doubt, %d not in the plan, %d missed\n",
				s.Name, counted(done.Entries, "strike"), done.Strikes, done.Labelled, done.Ambiguous, done.Extra, done.Missed)
		}
		return nil
	})
}

// sameStrikes tells whether windows are those of strikes.
func sameStrikes(windows []*dataset.Window, strikes []dataset.Strike) bool {
	return slices.EqualFunc(windows, strikes, func(w *dataset.Window, s dataset.Strike) bool { return w.Strike.OnsetNs == s.OnsetNs })
}
