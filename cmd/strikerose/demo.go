package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/testdata/recordings"
)

// cautions are printed wherever somebody may go on to a real bag.
const cautions = rig.Cautions

func newDemo(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "Run the whole job on two simulated recordings",
		Long: `Run the whole job in a new directory, on two recordings that come with the
program: from logs over strikes and labels to a comparison of detectors and the C
code of one. The recordings are simulated by an independent physics engine; no
person was recorded. Each step is a command that you can type yourself.`,
		Example: "strikerose demo evening-demo",
		Args:    takes(1, 1, "the directory to make"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDemo(cmd.Context(), a, args[0])
		},
	}
}

// demoStep is one step of the demo: what it does, and its command lines.
type demoStep struct {
	about    string
	commands [][]string
}

// demoSummary is where the demo's results lie.
type demoSummary struct {
	Corpus    string `json:"corpus"`
	Report    string `json:"report"`
	Detector  string `json:"detector"`
	Strikes   string `json:"strikes"`
	Firmware  string `json:"firmware"`
	Simulated bool   `json:"simulated"`
}

func demoSteps(dir string) ([]demoStep, demoSummary) {
	in := func(parts ...string) string { return filepath.Join(append([]string{dir}, parts...)...) }
	c, rig := in("corpus"), in("logs", "hall.toml")
	sum := demoSummary{Corpus: c, Report: in("report.html"), Detector: in("detector.json"), Strikes: in("strikes.csv"),
		Firmware: in("firmware"), Simulated: true}
	return []demoStep{
		{"Two logs of the board become a corpus of Parquet files. The counter of one\nwraps, the board of the other browns out and starts again.", [][]string{
			{"import", "-C", c, "--rig", rig, "--striker", "q", in("logs", "monday.csv.zst")},
			{"import", "-C", c, "--rig", rig, "--striker", "s", in("logs", "friday.bin.zst")},
		}},
		{"Strikes are found in the samples alone.", [][]string{
			{"find", "-C", c},
		}},
		{"The plan says in which order faces and bands were to be struck, but not\nwhen. It is laid over the strikes found.", [][]string{
			{"label", "plan", "-C", c, "--session", "monday", in("logs", "monday-plan.csv")},
			{"label", "plan", "-C", c, "--session", "friday", in("logs", "friday-plan.csv")},
		}},
		{"The simulation also knows when and where each strike landed: timed truth,\nwhich you would need a camera for.", [][]string{
			{"label", "truth", "-C", c, "--session", "monday", "--complete", "--author", "simulation", in("logs", "monday-truth.csv")},
			{"label", "truth", "-C", c, "--session", "friday", "--complete", "--author", "simulation", in("logs", "friday-truth.csv")},
		}},
		{"Every detector is trained on the plan's labels of one evening and scored\nagainst the timed truth of the other.", [][]string{
			{"compare", "-C", c, "--truth", "plan", "--score", "timed", "--report", sum.Report},
		}},
		{"One detector is trained on both evenings, and says where every strike\nlanded.", [][]string{
			{"train", "-C", c, "--truth", "plan", "--detector", "complex-ridge", "-o", sum.Detector},
			{"apply", "-C", c, "--detector", sum.Detector, "-o", sum.Strikes},
		}},
		{"It leaves as a table of numbers with C code for the board.", [][]string{
			{"export", "-C", c, "--detector", sum.Detector, "--rig", rig, "-o", sum.Firmware},
		}},
		{"The corpus is verified.", [][]string{
			{"check", "-C", c},
		}},
	}, sum
}

func runDemo(ctx context.Context, a *app, dir string) error {
	if err := makeDemoDir(dir); err != nil {
		return err
	}
	out := a.out
	if a.json { // the steps' words make way for the summary
		out = a.err
	}
	say := func(format string, args ...any) {
		if !a.quiet {
			fmt.Fprintf(out, format, args...)
		}
	}
	say("The whole job on two recordings of a bag that is SIMULATED by an independent\nphysics engine (MuJoCo); no person was recorded.\n")
	steps, sum := demoSteps(dir)
	for i, step := range steps {
		say("\n%d. %s\n", i+1, step.about)
		for _, args := range step.commands {
			say("\n$ strikerose %s\n", commandLine(args))
			w := a.world
			w.out = out
			root := newRoot(w)
			root.SetArgs(append([]string{"--seed", fmt.Sprint(a.seed), fmt.Sprintf("--quiet=%t", a.quiet)}, args...))
			if err := root.ExecuteContext(ctx); err != nil {
				return fmt.Errorf("demo: strikerose %s: %w", commandLine(args), err)
			}
		}
	}
	if a.json {
		return printJSON(a.out, sum)
	}
	say("\nDone. Everything was simulated: on a real bag expect larger errors.\n")
	fmt.Fprintf(a.out, "  report    %s\n  firmware  %s\n  detector  %s\n  strikes   %s\n  corpus    %s\n", sum.Report, sum.Firmware, sum.Detector, sum.Strikes, sum.Corpus)
	say("\n%s\n", cautions)
	return nil
}

// makeDemoDir makes the directory and writes the recordings into it.
func makeDemoDir(dir string) error {
	entries, err := os.ReadDir(dir)
	if err == nil && len(entries) > 0 {
		return fmt.Errorf("demo: %s: is not empty: name a directory that does not exist yet", dir)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("demo: %w", err)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	if err := os.CopyFS(filepath.Join(dir, "logs"), recordings.Files); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return nil
}

// commandLine writes arguments as one would type them.
func commandLine(args []string) string {
	var words []string
	for _, arg := range args {
		if strings.ContainsAny(arg, " '\"$\\&|;<>()*?[]#~`") {
			arg = "'" + strings.ReplaceAll(arg, "'", `'\''`) + "'"
		}
		words = append(words, arg)
	}
	return strings.Join(words, " ")
}
