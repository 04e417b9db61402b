package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/label"
	"strikerose/label/sheet"
	"strikerose/label/table"
)

type labelReadFlags struct{ session, labeller string }

func newLabelRead(a *app) *cobra.Command {
	var f labelReadFlags
	cmd := &cobra.Command{
		Use:   "read TABLE.csv",
		Short: "Take in labels from a table",
		Long: `Take in labels from a table: what label list --all wrote from another copy of
the corpus, each claim with its source, labeller, time and note; or strikes
labelled by hand elsewhere, in a spreadsheet say. Those rows have session and
onset_s, seconds from the session's first sample, and if you like face,
bearing_deg, height_m, band, kind, confidence, says (strike or no strike), pair
(one or two), note and labeller.

A claim that stands already is not repeated. A new one supersedes what the same
labeller said with the same source within 50 ms of it; one that is older than
what stands is left out. Nothing is written if any row is wrong.`,
		Example: `strikerose label list -C gym --all -o all.csv
strikerose label read -C gym all.csv`,
		Args: takes(1, 1, "the table"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabelRead(cmd.Context(), a, f, args[0])
		},
	}
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session of rows that name none")
	cmd.Flags().StringVar(&f.labeller, "labeller", "", "`ID` of who labelled the rows by hand that name nobody")
	return cmd
}

// taken is what label read says of one session.
type taken struct {
	Session  string `json:"session"`       // name of the session
	Labels   int    `json:"labels"`        // how many rows are about it, at least 0
	Written  int    `json:"journal_lines"` // how many of them are new and were added to the label journal, at least 0
	Standing int    `json:"standing"`      // how many of them stood already, at least 0
	Outdated int    `json:"outdated"`      // how many of them are older than what stands, at least 0
	Unfound  int    `json:"unfound"`       // how many of the new ones call something a strike where none was found, at least 0
}

func runLabelRead(ctx context.Context, a *app, f labelReadFlags, path string) error {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("label read: %w", err)
	}
	defer file.Close()
	sessions := map[string]dataset.Session{}
	claims, err := sheet.Read(file, path, sheet.Options{Labeller: f.labeller, Session: f.session,
		Of: func(name string) (sheet.Session, error) {
			s, err := c.Session(name)
			if err != nil {
				return sheet.Session{}, err
			}
			r, err := c.Rig(s.Rig)
			sessions[name] = s
			return sheet.Session{Rig: r, DurationS: s.DurationS}, err
		}})
	if errors.Is(err, table.ErrTooLarge) {
		return withHint(err, "strikerose label list -C CORPUS --all --sessions NAME -o PART.csv writes what is said of some sessions alone; read the parts one after the other")
	}
	if err != nil {
		return err
	}
	names := slices.Sorted(maps.Keys(sessions))
	about := map[string][]label.Claim{}
	for _, claim := range claims {
		about[claim.Session] = append(about[claim.Session], claim)
	}
	var out []taken
	err = lockedAll(c, names, func() error {
		fresh := make([][]label.Claim, len(names))
		for i, name := range names {
			one, some, err := amendSession(ctx, a, c, name, about[name])
			if err != nil {
				return err
			}
			out, fresh[i] = append(out, one), some
		}
		for i, name := range names { // only now that all of it is known to be good
			if err := label.OpenJournal(c.JournalPath(name)).Append(ctx, fresh[i]...); err != nil {
				return err
			}
			if err := putLabels(ctx, c, sessions[name]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if a.json {
		return printJSON(a.out, out)
	}
	for _, t := range out {
		if !a.quiet {
			fmt.Fprintf(a.out, "session %s: %s read\n  %d new, %d stood already, %d older than what stands\n",
				t.Session, counted(t.Labels, "label"), t.Written, t.Standing, t.Outdated)
		}
		if t.Unfound > 0 {
			a.note("session %s: %s where no strike was found", t.Session, counted(t.Unfound, "label"))
		}
	}
	return nil
}

// amendSession works out what a session's journal lacks of the claims that are
// about it.
func amendSession(ctx context.Context, a *app, c *corpus.Corpus, session string, claims []label.Claim) (taken, []label.Claim, error) {
	t := taken{Session: session}
	old, err := a.journalClaims(ctx, c, session)
	if err != nil {
		return t, nil, err
	}
	strikes, err := sessionStrikes(c, session)
	if err != nil {
		return t, nil, err
	}
	at, err := a.labelTime()
	if err != nil {
		return t, nil, err
	}
	var origins []label.Origin
	by := map[label.Origin][]label.Claim{}
	for _, claim := range claims {
		o := label.Origin{Session: session, Source: claim.Source, Author: claim.Author, At: at}
		if by[o] == nil {
			origins = append(origins, o)
		}
		by[o] = append(by[o], claim)
		t.Labels++
	}
	var fresh []label.Claim
	held := label.Hold(old)
	for _, o := range origins {
		some, outdated := held.Amend(o, by[o])
		for _, claim := range some {
			if err := claim.Validate(); err != nil {
				return t, nil, err
			}
		}
		fresh = append(fresh, some...)
		t.Outdated += outdated
	}
	t.Written = len(fresh)
	t.Standing = t.Labels - t.Written - t.Outdated
	_, orphans := label.Resolve(fresh, strikes, label.Best, label.MatchNs())
	t.Unfound = len(orphans)
	return t, fresh, nil
}

// lockedAll runs f while holding the locks of sessions.
func lockedAll(c *corpus.Corpus, sessions []string, f func() error) error {
	if len(sessions) == 0 {
		return f()
	}
	return locked(c, sessions[0], func() error { return lockedAll(c, sessions[1:], f) })
}
