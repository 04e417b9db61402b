package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// app is what every command shares: the world and the global flags.
type app struct {
	out, err   io.Writer
	getenv     func(string) string
	json       bool
	recordings string
	scratch    string
	program    string
}

// newRoot builds the whole command tree.
func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "bench",
		Short: "Measure the speed and memory of strikerose beside its peers",
		Long: `Measure the speed and memory of strikerose beside its peers, on the recordings
of --recordings or, without, on simulated ones. Each command says which.`,
		Example:       "go run ./cmd/bench peers --runs 5",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("%q is no command: see bench --help", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := cmd.Help(); err != nil {
				return err
			}
			return usagef("a command is missing")
		},
	}
	root.SetOut(a.out)
	root.SetErr(a.err)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return &usageError{err} })
	flags := root.PersistentFlags()
	flags.BoolVar(&a.json, "json", false, "print tables as JSON")
	flags.StringVar(&a.recordings, "recordings", a.getenv("STRIKEROSE_RECORDINGS"), "`DIR` with a folder a rig: rig.toml and logs/; default $STRIKEROSE_RECORDINGS, else simulated ones")
	flags.StringVar(&a.scratch, "scratch", "", "`DIR` for the data, kept for the next run; default a temporary one that is removed")
	flags.StringVar(&a.program, "program", "", "the strikerose `FILE` to measure; default one built from the sources here")
	root.CompletionOptions.DisableDefaultCmd = true
	root.AddCommand(
		newTools(a),
		newPeers(a),
		newTile(a),
		newMemory(a),
		newLinear(a),
		newMany(a),
		newKill(a),
		newScan(a),
		newForest(a),
		newColumns(a),
		newFill(a),
	)
	return root
}

// usageError is a command line that cannot be understood: exit status 2.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return &usageError{fmt.Errorf(format, args...)} }

// note tells what is going on, on standard error.
func (a *app) note(format string, args ...any) { fmt.Fprintf(a.err, format+"\n", args...) }

// noArgs refuses arguments.
func noArgs(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usagef("%q is one argument too many", args[0])
	}
	return nil
}
