package main

import (
	"context"
	"fmt"
	"os/exec"

	"github.com/spf13/cobra"

	"strikerose/cmd/bench/kill"
	"strikerose/testdata/recordings"
)

type killFlags struct {
	kills  int
	seed   uint64
	random bool
	jobs   []string
}

func newKill(a *app) *cobra.Command {
	var f killFlags
	cmd := &cobra.Command{
		Use:   "kill",
		Short: "Kill commands while they write, and look for what that breaks",
		Long: `Kill commands that write, most that change a corpus and two that write outputs as
all do, again and again, and verify each time that the next command works, that
check finds nothing that its own advice does not mend, and that no label, session
or output is lost, half written or left over. On Linux a command is killed right
after one of the system calls by which it changes a file, spread over its whole
run; of some writes only half reaches the file. Elsewhere, or with --random, it is
killed after random times. Recordings are simulated. Faults end with status 1.`,
		Example: "go run ./cmd/bench kill --kills 300 --seed 1",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.kills < 1 {
				return usagef("kill: give --kills of 1 or more")
			}
			return a.in(cmd.Context(), func(w *workspace) error { return a.kill(cmd.Context(), w, f) })
		},
	}
	cmd.Flags().IntVar(&f.kills, "kills", 300, "`N` kills, over all commands")
	cmd.Flags().Uint64Var(&f.seed, "seed", 1, "seed of where to kill")
	cmd.Flags().BoolVar(&f.random, "random", false, "kill after random times")
	cmd.Flags().StringSliceVar(&f.jobs, "commands", nil, "only these `NAMES`, as the report has them, separated by commas")
	return cmd
}

func (a *app) kill(ctx context.Context, w *workspace, f killFlags) error {
	rig, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		return err
	}
	if err := w.clear("kill"); err != nil {
		return err
	}
	r, err := kill.Run(ctx, kill.Options{
		Program: func(args ...string) *exec.Cmd { return exec.Command(w.program, args...) },
		Rig:     rig, Dir: w.path("kill"), Kills: f.kills, Seed: f.seed, Random: f.random, Jobs: f.jobs,
		Progress: func(done, of int) {
			if done%50 == 0 {
				a.note("%d of %d kills", done, of)
			}
		},
	})
	if err != nil {
		return err
	}
	if a.json {
		err = a.printJSON(r)
	} else {
		err = r.Print(a.out)
	}
	if err == nil && len(r.Faults) > 0 {
		err = fmt.Errorf("kill: %d faults, see above; --scratch DIR keeps the last directory", len(r.Faults))
	}
	return err
}
