package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/onset"
)

func newFind(a *app) *cobra.Command {
	var f findFlags
	cmd := &cobra.Command{
		Use:   "find",
		Short: "Find the strikes and write their windows",
		Long: `Find the strikes of each session from its samples alone and write them to the
corpus. Finding again replaces what was found before; labels are kept, since
they belong to a time and not to a number. With --features the features of the
strikes come along, as strikerose features would write them, and the samples are
read once for both.`,
		Example: `strikerose find -C gym
strikerose find -C gym --features`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runFind(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().BoolVar(&f.features, "features", false, "compute their features too")
	return cmd
}

type findFlags struct {
	selection
	features bool
}

// found is what find says of one session.
type found struct {
	Session string `json:"session"`  // name of the session
	Rig     string `json:"rig"`      // key of its rig, NAME-rREV
	Strikes int    `json:"strikes"`  // how many strikes were found, at least 0
	Clipped int    `json:"clipped"`  // in how many of them the accelerometer reached its limit, at least 0
	NearGap int    `json:"near_gap"` // how many of them have a gap or filled samples within their window, at least 0
}

func runFind(ctx context.Context, a *app, f findFlags) error {
	c, sessions, err := a.open(f.selection)
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
	err = inOrder(ctx, len(sessions), streamedAtOnce, func(ctx context.Context, i int) (one found, err error) {
		err = locked(c, sessions[i].Name, func() error {
			one, err = findSession(ctx, c, sessions[i], f.features)
			return err
		})
		return one, err
	}, func(_ int, one found, err error) error {
		p.Add(1)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			failed = append(failed, err) // the other sessions do not wait for it
			return nil
		}
		done = append(done, one)
		rows = append(rows, []string{one.Session, one.Rig, strconv.Itoa(one.Strikes), strconv.Itoa(one.Clipped), strconv.Itoa(one.NearGap)})
		return nil
	})
	if err != nil {
		return err
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

// findSession finds the strikes of one session, writes them, with their features
// if asked to, and brings the label table in line with them.
func findSession(ctx context.Context, c *corpus.Corpus, s dataset.Session, withFeatures bool) (found, error) {
	f := found{Session: s.Name, Rig: s.Rig}
	r, err := c.Rig(s.Rig)
	if err != nil {
		return f, err
	}
	o := chain.Options{} // windows no longer than the finder itself needs
	table := newFeatureTable()
	if withFeatures {
		o = eval.WholeWindow()
	}
	var strikes []dataset.Strike
	err = eachWindow(ctx, c, s, r, o, func(w *dataset.Window) {
		strikes = append(strikes, w.Found)
		if withFeatures {
			addFeatures(&table, w, r)
		}
		if w.Found.Clipped {
			f.Clipped++
		}
		if w.Found.NearGap {
			f.NearGap++
		}
	})
	if err != nil {
		return f, err
	}
	f.Strikes = len(strikes)
	if err := c.PutStrikes(ctx, s.Name, strikes, madeByFinder()); err != nil {
		return f, err
	}
	if withFeatures {
		if err := c.PutFeatures(ctx, s.Name, table); err != nil {
			return f, err
		}
	}
	return f, putLabels(ctx, c, s)
}

// eachWindow sends a session's samples through the chain, stretch by stretch,
// and calls take for each window in order. What take saw counts only if
// eachWindow returns nil: by then the samples' checksum has been compared.
func eachWindow(ctx context.Context, c *corpus.Corpus, s dataset.Session, r *rig.Rig, o chain.Options, take func(*dataset.Window)) error {
	o.NoGyro = !s.HasGyro
	steps, err := chain.New(r, o)
	if err != nil {
		return fmt.Errorf("session %s: %w", s.Name, err)
	}
	err = c.EachChunk(ctx, s.Name, func(sig *dataset.Signal) error {
		for _, w := range steps.PushSignal(sig) {
			take(w)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, w := range steps.Flush() {
		take(w)
	}
	return nil
}

// sessionWindows gathers the windows of a session.
func sessionWindows(ctx context.Context, c *corpus.Corpus, s dataset.Session, o chain.Options) (all []*dataset.Window, err error) {
	r, err := c.Rig(s.Rig)
	if err != nil {
		return nil, err
	}
	err = eachWindow(ctx, c, s, r, o, func(w *dataset.Window) { all = append(all, w) })
	if err != nil {
		return nil, err
	}
	return all, nil
}

// madeByFinder says what finds strikes; its parameters follow from the rig.
func madeByFinder() corpus.Made {
	return corpus.Made{Tool: fmt.Sprintf("chain %d", chain.Version)}
}

// madeByFeatures says what computes features.
func madeByFeatures() corpus.Made {
	return corpus.Made{Tool: fmt.Sprintf("features %d", features.Version), Params: madeByFinder().Tool}
}
