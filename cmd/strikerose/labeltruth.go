package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"strikerose/label"
	"strikerose/label/truth"
)

type labelTruthFlags struct {
	session, author string
	complete        bool
}

func newLabelTruth(a *app) *cobra.Command {
	var f labelTruthFlags
	cmd := &cobra.Command{
		Use:   "truth --session NAME [--complete] TRUTH.csv",
		Short: "Attach timed truth from another instrument",
		Long: `Attach timed truth from another instrument, such as a camera. TRUTH.csv has the
columns time_s, bearing_deg and height_m and, if you like, face, band and kind.
Bearings are in the bag's own frame. Its clock may start anywhere and drift: how
it lies against the log is worked out anew after each restart of the board.`,
		Example: `strikerose label truth -C gym --session monday --complete monday-truth.csv
strikerose label truth -C gym --session friday --complete friday-truth.csv`,
		Args: takes(1, 1, "the truth"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "session"); err != nil {
				return err
			}
			return runLabelTruth(cmd.Context(), a, f, args[0])
		},
	}
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session")
	cmd.Flags().StringVar(&f.author, "author", "", "`ID` of who or what measured (the session's striker)")
	cmd.Flags().BoolVar(&f.complete, "complete", false, "what the truth does not list was no strike")
	return cmd
}

// fewEntries is up to how many strikes a truth may be too short to place itself.
const fewEntries = 12

// placed is what label truth says.
type placed struct {
	Session string `json:"session"` // name of the session
	Entries int    `json:"entries"` // how many strikes the truth lists, at least 0
	laid
}

func runLabelTruth(ctx context.Context, a *app, f labelTruthFlags, path string) error {
	c, s, r, err := a.openOne(f.session)
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("label truth: %w", err)
	}
	defer file.Close()
	entries, notes, err := truth.Read(file, path, r)
	if err != nil {
		return err
	}
	return locked(c, s.Name, func() error {
		onsets, epochs, err := clockOf(ctx, c, s)
		if err != nil {
			return err
		}
		placement, err := truth.Match(ctx, entries, onsets, epochs)
		if errors.Is(err, truth.ErrNoPlace) && len(entries) <= fewEntries {
			return withHint(fmt.Errorf("%s: %w", path, err), "so few strikes are labelled sooner by their onsets: write them with session and onset_s of the corpus and give that to strikerose label read")
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		at, err := a.labelTime()
		if err != nil {
			return err
		}
		o := label.Origin{Session: s.Name, Source: label.Timed, Author: author(f.author, s), At: at}
		written, err := a.revise(ctx, c, s, o, placement.Claims(entries, f.complete))
		if err != nil {
			return err
		}
		done := placed{s.Name, len(entries), laidOver(placement, len(onsets), written, append(notes, placement.Notes...))}
		if a.json {
			return printJSON(a.out, done)
		}
		if a.quiet {
			return nil
		}
		fmt.Fprintf(a.out, "session %s: %s in the truth, %d found\n  %d matched, %d without a find, %d finds without truth,\n  %d while the board was off, %d outside the recording\n",
			s.Name, counted(done.Entries, "strike"), done.Strikes, done.Matched, done.Missed, done.Extra, done.InPause, done.Outside)
		printFits(a.out, "truth", placement.Fits)
		for _, note := range done.Notes {
			a.note("%s: %s", path, note)
		}
		return nil
	})
}

// printFits says how a clock lies against that of each stretch between restarts.
func printFits(w io.Writer, whose string, fits []truth.Fit) {
	for i, fit := range fits {
		switch {
		case !fit.Placed:
			fmt.Fprintf(w, "  stretch %d: not placed: too few strikes in it\n", i+1)
		case fit.Borrowed:
			fmt.Fprintf(w, "  stretch %d: %s clock %+.3f s, drift taken from its neighbours, %s\n", i+1, whose, fit.OffsetS, counted(fit.Pairs, "pair"))
		default:
			fmt.Fprintf(w, "  stretch %d: %s clock %+.3f s, drift %+.0f ppm, spread %.1f ms, %s\n", i+1, whose, fit.OffsetS, fit.DriftPPM, fit.SpreadMs, counted(fit.Pairs, "pair"))
		}
	}
}
