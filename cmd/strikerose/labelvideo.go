package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/label"
	"strikerose/label/video"
)

type labelVideoFlags struct {
	session, labeller string
	within            time.Duration
	complete          bool
}

func newLabelVideo(a *app) *cobra.Command {
	var f labelVideoFlags
	cmd := &cobra.Command{
		Use:   "video --session NAME [--complete] NOTES.csv",
		Short: "Take in what a person wrote down from a video",
		Long: `Take in what a person wrote down from a video: CSV with the columns time (seconds,
m:ss or h:mm:ss, with decimals) and text, in words of your own, such as

  time,text
  0:04.17,"face 3, mid hook"
  0:05.44,left hook low 120 deg
  0:09.20,shove

Understood are a face (face 3, f3, front), a bearing (120 deg), a height (0.62 m,
62 cm), a band by its name in the rig file, a kind (also jab, cross, upper,
light), a hand, no strike or shove, and maybe or ? where you doubt. Words that
are not understood are listed, and a row of nothing else is left out.

The video's clock may start anywhere and drift: how it lies against the log is
worked out as for label truth, with times good to --within. The labels are a
person's, by hand, with your words as their note, each at the onset of the strike
that was found there. Nothing is written if a row contradicts itself or the rig.`,
		Example: `strikerose label video -C gym --session monday --labeller ben monday-video.csv`,
		Args:    takes(1, 1, "the notes"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "session"); err != nil {
				return err
			}
			if f.within < time.Millisecond || f.within > time.Second {
				return usagef(cmd, "--within %v: give 1ms to 1s", f.within)
			}
			return runLabelVideo(cmd.Context(), a, f, args[0])
		},
	}
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session")
	cmd.Flags().StringVar(&f.labeller, "labeller", "", "`ID` of who watched (the session's striker)")
	cmd.Flags().DurationVar(&f.within, "within", 100*time.Millisecond, "`TIME` by which the times may be off, 1ms to 1s")
	cmd.Flags().BoolVar(&f.complete, "complete", false, "what the notes do not list was no strike")
	return cmd
}

// watched is what label video says.
type watched struct {
	Session    string          `json:"session"`    // name of the session
	Rows       int             `json:"rows"`       // how many rows the notes have, at least 0
	Understood []video.Count   `json:"understood"` // what was understood, and in how many rows
	Unknown    []video.Unknown `json:"unknown"`    // words that were not understood; empty where all were
	LeftOut    int             `json:"left_out"`   // how many rows were left out since no word of them was understood, at least 0
	laid
}

func runLabelVideo(ctx context.Context, a *app, f labelVideoFlags, path string) error {
	c, s, r, err := a.openOne(f.session)
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("label video: %w", err)
	}
	defer file.Close()
	reading, err := video.Read(file, path, r)
	if err != nil {
		return err
	}
	return locked(c, s.Name, func() error {
		onsets, epochs, err := clockOf(ctx, c, s)
		if err != nil {
			return err
		}
		placement, err := reading.Place(ctx, onsets, epochs, f.within.Seconds())
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		claims := reading.Claims(placement, onsets, f.complete)
		for i := range claims {
			claims[i].Session, claims[i].Author = s.Name, author(f.labeller, s)
		}
		one, fresh, err := amendSession(ctx, a, c, s.Name, claims)
		if err != nil {
			return err
		}
		if err := label.OpenJournal(c.JournalPath(s.Name)).Append(ctx, fresh...); err != nil {
			return err
		}
		if err := putLabels(ctx, c, s); err != nil {
			return err
		}
		done := watched{Session: s.Name, Rows: len(reading.Entries) + len(reading.Outside), Understood: reading.Counts(), Unknown: append([]video.Unknown{}, reading.Unknown...),
			LeftOut: len(reading.Outside), laid: laidOver(placement, len(onsets), one.Written, placement.Notes)}
		return a.tellWatched(path, done)
	})
}

func (a *app) tellWatched(path string, done watched) error {
	if a.json {
		return printJSON(a.out, done)
	}
	if len(done.Unknown) > 0 {
		var words []string
		for _, u := range done.Unknown {
			words = append(words, fmt.Sprintf("%q (line %d, %s)", u.Word, u.Line, counted(u.Count, "time")))
		}
		a.warn("label video: %s: words not understood: %s", path, strings.Join(words, ", "))
	}
	if done.LeftOut > 0 {
		a.warn("label video: %s: %s left out, since no word of it is understood", path, counted(done.LeftOut, "row"))
	}
	if a.quiet {
		return nil
	}
	var said []string
	for _, count := range done.Understood {
		if count.Count > 0 {
			said = append(said, fmt.Sprintf("%s in %d", count.What, count.Count))
		}
	}
	fmt.Fprintf(a.out, "session %s: %s in the notes, %d strikes found\n  understood: %s\n", done.Session, counted(done.Rows, "row"), done.Strikes, strings.Join(said, ", "))
	fmt.Fprintf(a.out, "  %d matched, %d without a find, %d finds without a row,\n  %d while the board was off, %d outside the recording\n",
		done.Matched, done.Missed, done.Extra, done.InPause, done.Outside)
	printFits(a.out, "video", done.Fits)
	for _, note := range done.Notes {
		a.note("%s: %s", path, note)
	}
	return nil
}
