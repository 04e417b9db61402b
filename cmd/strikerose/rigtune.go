package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/features/ringdown"
)

type tuneFlags struct {
	rig, out string
	sessions []string
}

func newRigTune(a *app) *cobra.Command {
	var f tuneFlags
	cmd := &cobra.Command{
		Use:   "tune --rig FILE",
		Short: "Measure how the bag swings, rocks and twists; check its rig file",
		Long: `Measure how the bag moves by itself between strikes, and compare it with what the
rig file's masses and lengths compute: swing of chain and bag, rocking of the bag
against its chain, and with a gyroscope the twist and e = c + k2/c, which says
where on the bag the sensor sits. No labels are needed, but strikes with two
seconds or more until the next one. Every figure has its 90 % interval, by
resampling strikes. Without a gyroscope the swing's decay comes out too short, by a
fifth and more on simulated recordings.

It warns where the two disagree by more than the amplitude of usual strikes
explains: rocking comes out two to three percent slower than computed. Such a
rig file has a wrong length, or the sensor has moved.

With -o it writes what was found as [motion] into a copy of the rig file.
Frequencies and decays are what detectors of physics and simulated recordings
work with; with a corpus made before, raise revision. Centre of mass and radius of
gyration are left alone: what the swing says of them is biased by its amplitude
by more than a measured rig file is wrong. What remains of the sensor's yaw shows
only in labelled strikes; training a detector learns it for each rig.`,
		Example: "strikerose rig tune -C gym --rig hall.toml",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "rig"); err != nil {
				return err
			}
			if f.out == "-" && a.json {
				return usagef(cmd, "-o - and --json both want standard output: give one of them")
			}
			return runRigTune(cmd.Context(), a, f)
		},
	}
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` to check")
	cmd.Flags().StringSliceVar(&f.sessions, "sessions", nil, "only these sessions of the rig: `NAME`s separated by commas")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the rig `FILE` to write, a copy with what was found as [motion]")
	return cmd
}

// tuned is what tune says.
type tuned struct {
	Rig      string                `json:"rig"`             // key of the rig, NAME-rREV
	Sessions []string              `json:"sessions"`        // names of the sessions read
	Strikes  int                   `json:"strikes"`         // how many strikes were followed by free motion, at least 0
	Found    []ringdown.Comparison `json:"found"`           // what was measured beside what the rig file makes of it
	Warnings []string              `json:"warnings"`        // what in the rig file to look at, in words; empty where it agrees
	Wrote    string                `json:"wrote,omitempty"` // path of the rig file that was written; absent where none was
}

func runRigTune(ctx context.Context, a *app, f tuneFlags) error {
	r, text, err := readRig(f.rig)
	if err != nil {
		return err
	}
	c, sessions, err := a.open(selection{rigs: []string{r.Key()}, sessions: f.sessions})
	if err != nil {
		return err
	}
	done := tuned{Rig: r.Key(), Sessions: []string{}, Warnings: []string{}}
	var stretches []ringdown.Stretch
	p := a.progress("reading sessions", int64(len(sessions)), false)
	defer p.Done()
	for _, s := range sessions {
		cut, err := stretchesOf(ctx, c, s, r)
		if err != nil {
			return err
		}
		stretches = append(stretches, cut...)
		done.Sessions = append(done.Sessions, s.Name)
		p.Add(1)
	}
	p.Done()
	found, err := ringdown.Measure(ctx, stretches, r.Mechanics(), a.seed)
	if err != nil {
		return fmt.Errorf("rig tune: rig %s: %w", r.Key(), err)
	}
	done.Strikes = found.Strikes
	var warnings []string
	done.Found, warnings = ringdown.Compare(found, r.Mechanics())
	done.Warnings = append(done.Warnings, warnings...) // an empty list is one too, for --json
	if f.out != "" {
		to := *r
		var was rig.Motion
		if r.Motion != nil {
			was = *r.Motion
		}
		motion := found.Motion(was)
		to.Motion = &motion
		if err := writeRig(a, f.out, f.rig, text, &to); err != nil {
			return fmt.Errorf("rig tune: %w", err)
		}
		done.Wrote = f.out
	}
	for _, w := range done.Warnings {
		a.warn("rig %s: %s", done.Rig, w)
	}
	if f.out == "-" {
		return nil
	}
	if err := a.table(done, []string{"what", "unit", "found", "interval", "computed", "difference", "beyond"}, done.rows()); err != nil {
		return err
	}
	a.note("found: between the strikes, with its 90 %% interval; computed: from the rig file's")
	a.note("masses and lengths; beyond: differs by more than usual strikes explain")
	if found.LeverM != nil {
		a.note("e, below the strap ring, with c the centre of mass and k the radius of gyration:")
		a.note("off where the sensor sits elsewhere than the rig file says, or its masses do")
	}
	if found.Twist == nil {
		a.note("without a gyroscope neither the twist nor the sensor's place can be told")
	}
	if found.Swing.DecayS == nil {
		a.note("the stretches between strikes are too short to tell how the swing decays")
	}
	if f.out != "" {
		a.note("wrote %s", f.out)
	}
	return nil
}

// stretchesOf finds a session's strikes and cuts the motion between them.
func stretchesOf(ctx context.Context, c *corpus.Corpus, s dataset.Session, r *rig.Rig) ([]ringdown.Stretch, error) {
	sig, err := c.Signal(ctx, s.Name)
	if err != nil {
		return nil, err
	}
	windows, err := chain.Run(ctx, r, sig, chain.Options{})
	if err != nil {
		return nil, fmt.Errorf("session %s: %w", s.Name, err)
	}
	onsets := make([]int64, len(windows))
	for i, w := range windows {
		onsets[i] = w.Strike.OnsetNs
	}
	return ringdown.Cut(sig, r, onsets), nil
}

func (t *tuned) rows() [][]string {
	var rows [][]string
	for _, c := range t.Found {
		decimals := 3
		if c.Unit == "s" {
			decimals = 2
		}
		what := c.What
		if what == "e" {
			what = "e = c + k2/c"
		}
		row := []string{what, c.Unit, fixed(c.Found.Value, decimals), fixed(c.Found.Low, decimals) + " to " + fixed(c.Found.High, decimals), "", "", ""}
		if c.Computed != nil {
			row[4] = fixed(*c.Computed, decimals)
			row[5] = fmt.Sprintf("%+.1f %%", 100**c.Difference)
			if c.Unit == "m" {
				row[5] = fmt.Sprintf("%+.3f m", *c.Difference)
			}
			row[6] = map[bool]string{true: "yes", false: "no"}[c.Beyond]
		}
		rows = append(rows, row)
	}
	return rows
}
