package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/onset"
)

func newFind(a *app) *cobra.Command {
	var sel selection
	cmd := &cobra.Command{
		Use:   "find",
		Short: "Find the strikes and write their windows",
		Long: `Find the strikes of each session from its samples alone and write them to the
corpus. Finding again replaces what was found before; labels are kept, since
they belong to a time and not to a number.`,
		Example: "strikerose find -C gym",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runFind(cmd.Context(), a, sel)
		},
	}
	sel.flags(cmd)
	return cmd
}

// found is what find says of one session.
type found struct {
	Session string `json:"session"`
	Rig     string `json:"rig"`
	Strikes int    `json:"strikes"`
	Clipped int    `json:"clipped"`
	NearGap int    `json:"near_gap"`
}

func runFind(ctx context.Context, a *app, sel selection) error {
	c, sessions, err := a.open(sel)
	if err != nil {
		return err
	}
	var done []found
	var rows [][]string
	var failed []error
	if err := a.warnFastRocking(c, sessions); err != nil {
		return err
	}
	p := a.progress("finding strikes", int64(len(sessions)), false)
	defer p.Done()
	for _, s := range sessions {
		var f found
		err := locked(c, s.Name, func() error {
			f, err = findSession(ctx, c, s)
			return err
		})
		p.Add(1)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			failed = append(failed, err) // the other sessions do not wait for it
			continue
		}
		done = append(done, f)
		rows = append(rows, []string{f.Session, f.Rig, strconv.Itoa(f.Strikes), strconv.Itoa(f.Clipped), strconv.Itoa(f.NearGap)})
	}
	p.Done()
	return errors.Join(append(failed, a.report(done, []string{"session", "rig", "strikes", "clipped", "near_gap"}, rows))...)
}

// warnFastRocking warns of rigs whose own motion may pass for strikes.
func (a *app) warnFastRocking(c *corpus.Corpus, sessions []dataset.Session) error {
	told := map[string]bool{}
	for _, s := range sessions {
		if told[s.Rig] {
			continue
		}
		told[s.Rig] = true
		r, err := c.Rig(s.Rig)
		if err != nil {
			return err
		}
		if _, rocking := r.Mechanics().Modes(); rocking.Hz > onset.FastestRockingHz {
			a.warn("find: rig %s: rocks at %.1f Hz, and above %g Hz a bag's own motion may pass for strikes: hang it from a longer chain, or correct hang.chain_m",
				s.Rig, rocking.Hz, onset.FastestRockingHz)
		}
	}
	return nil
}

// findSession finds the strikes of one session, writes them, and brings the
// label table in line with them.
func findSession(ctx context.Context, c *corpus.Corpus, s dataset.Session) (found, error) {
	f := found{Session: s.Name, Rig: s.Rig}
	windows, err := sessionWindows(ctx, c, s, chain.Options{}) // no longer than the finder itself needs
	if err != nil {
		return f, err
	}
	strikes := make([]dataset.Strike, len(windows))
	for i, w := range windows {
		strikes[i] = w.Strike
		if w.Strike.Clipped {
			f.Clipped++
		}
		if w.Strike.NearGap {
			f.NearGap++
		}
	}
	f.Strikes = len(strikes)
	if err := c.PutStrikes(ctx, s.Name, strikes, madeByFinder()); err != nil {
		return f, err
	}
	return f, putLabels(ctx, c, s)
}

// sessionWindows sends a session's samples through the chain.
func sessionWindows(ctx context.Context, c *corpus.Corpus, s dataset.Session, o chain.Options) ([]*dataset.Window, error) {
	r, sig, err := recording(ctx, c, s)
	if err != nil {
		return nil, err
	}
	windows, err := chain.Run(ctx, r, sig, o)
	if err != nil {
		return nil, fmt.Errorf("session %s: %w", s.Name, err)
	}
	return windows, nil
}

// madeByFinder says what finds strikes; its parameters follow from the rig.
func madeByFinder() corpus.Made {
	return corpus.Made{Tool: fmt.Sprintf("chain %d", chain.Version)}
}

// madeByFeatures says what computes features.
func madeByFeatures() corpus.Made {
	return corpus.Made{Tool: fmt.Sprintf("features %d", features.Version), Params: madeByFinder().Tool}
}
