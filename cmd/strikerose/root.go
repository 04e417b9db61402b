package main

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
)

// app is what every command shares: the world and the global flags.
type app struct {
	world
	dir   string
	json  bool
	quiet bool
	seed  uint64
	named []os.FileInfo // files on the command line
}

// newRoot builds the whole command tree.
func newRoot(w world) *cobra.Command {
	a := &app{world: w}
	root := &cobra.Command{
		Use:   "strikerose",
		Short: "Find where on a hanging bag strikes landed, from the log of a sensor inside it",
		Long: `strikerose reads the logs of an accelerometer (and gyroscope) inside a hanging
bag, finds the strikes, and learns from labelled ones where on the bag each
landed: its bearing and its height. What it learned leaves as a coefficient
table with C code for the board.`,
		Example:       "strikerose demo evening-demo",
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.PersistentPreRunE = func(cmd *cobra.Command, args []string) error {
		a.named = namedFiles(cmd, args)
		return refuseEmpty(cmd)
	}
	root.PersistentPostRun = func(cmd *cobra.Command, args []string) { a.tellNext(cmd) }
	root.SetIn(w.in)
	root.SetOut(w.out)
	root.SetErr(w.err)
	root.SetVersionTemplate("strikerose {{.Version}}\n")
	root.SetUsageTemplate(strings.NewReplacer(".FlagUsages", fmt.Sprintf(".FlagUsagesWrapped %d", columns), "for more information about a command", "for more about a command").Replace(root.UsageTemplate()) +
		"\nExit status: 0 done, 1 refused or failed, 2 wrong usage, 130 interrupted.\n")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef(cmd, "%w", err)
	})
	flags := root.PersistentFlags()
	flags.StringVarP(&a.dir, "corpus", "C", ".", "the corpus `DIR`; created by the first import")
	flags.BoolVar(&a.json, "json", false, "print results as JSON (help COMMAND --json: its schema)")
	flags.BoolVar(&a.quiet, "quiet", false, "print results, warnings and errors only")
	flags.Uint64Var(&a.seed, "seed", 1, "seed of everything random: folds, resampling, starts")

	root.AddCommand(
		newDemo(a),
		newRig(a),
		newSimulate(a),
		newPlan(a),
		newImport(a),
		newSession(a),
		newFind(a),
		newLabel(a),
		newFeatures(a),
		newDraw(a),
		newCompare(a),
		newDetectors(a),
		newTrain(a),
		newTune(a),
		newAdapt(a),
		newApply(a),
		newExport(a),
		newCheck(a),
		newVersion(a),
		newMan(a),
	)
	root.SetHelpCommand(newHelp(a))
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		if cmd.HasSubCommands() {
			asGroup(cmd)
		}
		if cmd.Name() == "completion" {
			for _, shell := range cmd.Commands() {
				shell.Example = shell.CommandPath()
			}
			cmd.Example = "strikerose completion bash"
		}
	}
	breakHelp(root)
	asGroup(root)
	group := root.RunE
	root.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return group(cmd, args)
		}
		a.tellPlace()
		return usagef(cmd, "a command is missing")
	}
	return root
}

// asGroup makes a command that only holds others refuse to run by itself.
func asGroup(cmd *cobra.Command) {
	cmd.Args = cobra.ArbitraryArgs
	cmd.DisableFlagsInUseLine = true
	cmd.SuggestionsMinimumDistance = 2 // letters, or none but beginnings are suggested
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		cmd.SetOut(cmd.ErrOrStderr())
		if err := cmd.Help(); err != nil {
			return err
		}
		if len(args) == 0 {
			return usagef(cmd, "a command is missing")
		}
		err := usagef(cmd, "%q is no command", args[0])
		if close := cmd.SuggestionsFor(args[0]); len(close) > 0 {
			err = withHint(err, "did you mean %s?", strings.Join(close, " or "))
		}
		return err
	}
}

// newHelp is cobra's help command, but one that refuses an unknown topic, and that
// prints the schema of a command's JSON with --json.
func newHelp(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Show the help of a command, or with --json the schema of its JSON",
		Long: `Show the help of a command; with --json, the JSON Schema of what the command
prints with --json. Names hold their units: _deg, _m, _s, _mps2; what is not known
is null or left out. Names are only ever added.`,
		Example: "strikerose help import",
		RunE: func(cmd *cobra.Command, args []string) error {
			topic, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return usagef(cmd, "%q is no command", strings.Join(args, " "))
			}
			if a.json {
				text, err := schemaOf(topic)
				if err == nil {
					_, err = a.out.Write(text)
				}
				return err
			}
			topic.InitDefaultHelpFlag()
			return topic.Help()
		},
	}
}

// version is what the build recorded of the module.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(devel)"
}
