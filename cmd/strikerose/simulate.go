package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
)

// What simulate makes at most: as many strikes as a plan may hold, and of the
// rest what a session can still be read with.
const (
	mostSimulated = 5000
	mostPerMin    = 60
)

type simulateFlags struct {
	rig, dialect, out string
	strikes           int
	mix               simulate.Mix
	misses, shoves    float64
	losses, brownOuts float64
	largeAngles       bool
}

func newSimulate(a *app) *cobra.Command {
	var f simulateFlags
	cmd := &cobra.Command{
		Use:   "simulate --rig FILE --strikes N -o DIR",
		Short: "Simulate a session: a log, its plan and its truth",
		Long: `Simulate a session on a rig: the log that its board would write, the plan that
was carried out (plan.csv) and what landed where and when (truth.csv). Nothing is
measured and nobody strikes: forces, contact times and scatter are assumptions,
and a real bag flexes, slips and rattles besides. Use it to try the commands, or
a place for the sensor, before there is a recording. The same seed gives the same
files.`,
		Example: `strikerose simulate --rig hall.toml --strikes 40 --seed 7 --hooks 0.3 -o rehearsal
strikerose import -C rehearsal/corpus --rig hall.toml rehearsal/simulated-7.bin
strikerose find -C rehearsal/corpus
strikerose label truth -C rehearsal/corpus --session simulated-7 --complete --author simulation rehearsal/truth.csv`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "rig", "strikes", "output"); err != nil {
				return err
			}
			if f.strikes < 1 || f.strikes > mostSimulated {
				return usagef(cmd, "--strikes %d: give 1 to %d", f.strikes, mostSimulated)
			}
			if f.dialect != "" && !slices.Contains(simulate.Dialects(), f.dialect) {
				return usagef(cmd, "--dialect %q is not known: use one of %s", f.dialect, strings.Join(simulate.Dialects(), ", "))
			}
			if err := f.mix.Check(); err != nil {
				return usagef(cmd, "%w", err)
			}
			for _, x := range []struct {
				flag        string
				value, most float64
			}{{"misses", f.misses, 1}, {"shoves", f.shoves, mostPerMin}, {"losses", f.losses, mostPerMin}, {"brown-outs", f.brownOuts, mostPerMin}} {
				if !(x.value >= 0 && x.value <= x.most) {
					return usagef(cmd, "--%s is %g: give a number from 0 to %g", x.flag, x.value, x.most)
				}
			}
			return runSimulate(cmd.Context(), a, f)
		},
	}
	usual, board := simulate.UsualMix(), simulate.UsualBoard()
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "", "the rig `FILE`")
	flags.IntVar(&f.strikes, "strikes", 0, "`N` blows in the plan")
	flags.StringVar(&f.dialect, "dialect", "", "dialect `NAME` of the log: "+strings.Join(simulate.Dialects(), ", ")+" (frames where the rig describes them, else counts-csv)")
	flags.Float64Var(&f.mix.Hooks, "hooks", usual.Hooks, "`SHARE` of hooks, which strike obliquely and twist the bag")
	flags.Float64Var(&f.mix.Uppercuts, "uppercuts", usual.Uppercuts, "`SHARE` of uppercuts")
	flags.Float64Var(&f.mix.Taps, "taps", usual.Taps, "`SHARE` of taps")
	flags.Float64Var(&f.mix.Pairs, "pairs", usual.Pairs, "`SHARE` of strikes in double hits")
	flags.Float64Var(&f.misses, "misses", 0, "`SHARE` of planned blows that do not land")
	flags.Float64Var(&f.shoves, "shoves", simulate.UsualStriker().ShovesPerMin, "`N` shoves a minute, which are not strikes")
	flags.Float64Var(&f.losses, "losses", board.LossesPerMin, "`N` runs of lost samples a minute")
	flags.Float64Var(&f.brownOuts, "brown-outs", board.BrownOutsPerMin, "`N` times a minute that the board loses power and starts again")
	flags.BoolVar(&f.largeAngles, "large-angles", false, "step chain and bag as rods in space, exact at any angle; takes several times as long")
	flags.StringVarP(&f.out, "output", "o", "", "the `DIR` to write into; made where it is not there")
	return cmd
}

// simulated is what simulate says.
type simulated struct {
	Simulated bool   `json:"simulated"` // whether all of it is simulated; always true
	Rig       string `json:"rig"`       // key of the rig, NAME-rREV
	Seed      uint64 `json:"seed"`      // seed of everything random
	Planned   int    `json:"planned"`   // how many blows the plan has, at least 1
	Strikes   int    `json:"strikes"`   // how many of them landed while the board logged, at least 0
	Dialect   string `json:"dialect"`   // how the log is written, one of simulate.Dialects
	Log       string `json:"log"`       // path of the log
	Plan      string `json:"plan"`      // path of the plan, CSV
	Truth     string `json:"truth"`     // path of the timed truth, CSV
}

func runSimulate(ctx context.Context, a *app, f simulateFlags) error {
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	if f.dialect == "" {
		f.dialect = usualDialect(r)
	}
	plan := simulate.RandomPlan(r, f.strikes, f.mix, a.seed)
	o := simulate.Usual(r, 0, a.seed)
	o.Plan = slices.Values(plan)
	o.Striker.MissShare, o.Striker.ShovesPerMin = f.misses, f.shoves
	o.Board.LossesPerMin, o.Board.BrownOutsPerMin = f.losses, f.brownOuts
	o.LargeAngles = f.largeAngles
	s, err := simulate.NewSession(o)
	if err != nil {
		return err
	}
	truth := s.Truth()
	done := simulated{Simulated: true, Rig: r.Key(), Seed: a.seed, Planned: len(plan), Strikes: len(truth), Dialect: f.dialect,
		Log:  filepath.Join(f.out, fmt.Sprintf("simulated-%d%s", a.seed, extension(f.dialect))),
		Plan: filepath.Join(f.out, "plan.csv"), Truth: filepath.Join(f.out, "truth.csv")}
	for _, path := range []string{done.Log, done.Plan, done.Truth} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("simulate: %s: is there already: name another directory", path)
		}
	}
	if err := os.MkdirAll(f.out, 0o777); err != nil {
		return fmt.Errorf("simulate: %w", err)
	}
	for _, file := range []struct {
		path  string
		write func(io.Writer) error
	}{
		{done.Log, func(w io.Writer) error { return simulate.WriteLog(interruptible{ctx, w}, f.dialect, s) }},
		{done.Plan, func(w io.Writer) error { return simulate.WritePlan(w, slices.Values(plan)) }},
		{done.Truth, func(w io.Writer) error { return simulate.WriteTruth(w, truth) }},
	} {
		if err := a.writeOutput(file.path, file.write); err != nil {
			return err
		}
	}
	if a.json {
		return printJSON(a.out, done)
	}
	if a.quiet {
		return nil
	}
	fmt.Fprintf(a.out, "SIMULATED session on rig %s, seed %d\n  %d planned, %s landed while the board logged\n  log    %s (%s)\n  plan   %s\n  truth  %s\n",
		done.Rig, done.Seed, done.Planned, counted(done.Strikes, "strike"), done.Log, done.Dialect, done.Plan, done.Truth)
	a.note("Nothing here was measured.\n\n%s", cautions)
	return nil
}

// usualDialect is what a board of a rig most likely writes.
func usualDialect(r *rig.Rig) string {
	switch {
	case r.Log.Frame != nil:
		return "frames"
	case r.Sensor.AccelLSBPerG > 0 && (r.Sensor.GyroLSBPerDPS > 0 || !r.HasGyro()):
		return "counts-csv"
	}
	return "units-csv"
}

// extension is that of a dialect's files.
func extension(dialect string) string {
	switch dialect {
	case "frames":
		return ".bin"
	case "jsonl":
		return ".jsonl"
	case "console":
		return ".txt"
	}
	return ".csv"
}

// interruptible refuses to write on when its context is done.
type interruptible struct {
	ctx context.Context
	w   io.Writer
}

func (i interruptible) Write(b []byte) (int, error) {
	if err := i.ctx.Err(); err != nil {
		return 0, err
	}
	return i.w.Write(b)
}
