package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
	"strikerose/testdata/recordings"
	"strikerose/testdata/rigs"
)

// cautions are printed wherever somebody may go on to a real bag.
const cautions = rig.Cautions

func newDemo(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "Run the whole job on simulated recordings",
		Long: `Run the whole job in a new directory. First a made-up bag before and after its
core and sensor were moved: what its physics allows, simulated sessions on it, and
what simple, physical and fitted detectors make of them. Then two recordings that
come with the program, simulated by an independent physics engine: from logs over
strikes and labels to a comparison of detectors and the C code of one. Nothing was
measured and no person was recorded. Each step is a command that you can type
yourself.`,
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
	Corpus    string `json:"corpus"`    // folder of the corpus that was made
	Report    string `json:"report"`    // page that compares the detectors
	Detector  string `json:"detector"`  // file of the trained detector
	Strikes   string `json:"strikes"`   // CSV file of where strikes landed, by that detector
	Firmware  string `json:"firmware"`  // folder of the C code and its tables
	Simulated bool   `json:"simulated"` // whether all of it is simulated; always true
}

func demoSteps(dir string) ([]demoStep, demoSummary) {
	in := func(parts ...string) string { return filepath.Join(append([]string{dir}, parts...)...) }
	c, rig := in("corpus"), in("logs", "hall.toml")
	sum := demoSummary{Corpus: c, Report: in("report.html"), Detector: in("detector.json"), Strikes: in("strikes.csv"),
		Firmware: in("firmware"), Simulated: true}
	before, after := in("rigs", "before.toml"), in("rigs", "after.toml")
	steps := []demoStep{{"What can a bag with the sensor near its top tell, and what once core and\nsensor are moved? The rig files answer before anybody strikes.", [][]string{
		{"rig", "show", before, after},
	}}}
	simulated := demoStep{about: "Two sessions are simulated on each, then read like any log of a board."}
	for i, rig := range []string{before, before, after, after} {
		seed, to := fmt.Sprint(i+1), in("simulated", fmt.Sprint(i+1))
		session := "simulated-" + seed
		simulated.commands = append(simulated.commands,
			[]string{"simulate", "--rig", rig, "--strikes", "60", "--seed", seed, "--dialect", "counts-csv", "--quiet", "-o", to},
			[]string{"import", "-C", c, "--rig", rig, "--quiet", filepath.Join(to, session+".csv")},
			[]string{"find", "-C", c, "--sessions", session, "--quiet"},
			[]string{"label", "truth", "-C", c, "--session", session, "--complete", "--author", "simulation", "--quiet", filepath.Join(to, "truth.csv")})
	}
	return append(steps, simulated,
		demoStep{"Before: beyond the dead height the first kick points the other way, and\npeak-arctangent flips. The physics detector knows better, without a label.\n(It shares its equations with the simulator, and so looks better here than on\na real bag; the next recordings come from another engine.)", [][]string{
			{"compare", "-C", c, "--rigs", "garage-r1", "--truth", "timed"},
		}},
		demoStep{"After: nothing flips, whichever detector is used.", [][]string{
			{"compare", "-C", c, "--rigs", "garage-r2", "--truth", "timed"},
		}},
		demoStep{"Now recordings of an independent engine. Two logs of the board join the\ncorpus of Parquet files. The counter of one wraps, the board of the other\nbrowns out and starts again.", [][]string{
			{"import", "-C", c, "--rig", rig, "--striker", "q", in("logs", "monday.csv.zst")},
			{"import", "-C", c, "--rig", rig, "--striker", "s", in("logs", "friday.bin.zst")},
		}},
		demoStep{"Strikes are found in the samples alone.", [][]string{
			{"find", "-C", c, "--sessions", "monday,friday"},
		}},
		demoStep{"The plan says in which order faces and bands were to be struck, but not\nwhen. It is laid over the strikes found.", [][]string{
			{"label", "plan", "-C", c, "--session", "monday", in("logs", "monday-plan.csv")},
			{"label", "plan", "-C", c, "--session", "friday", in("logs", "friday-plan.csv")},
		}},
		demoStep{"The simulation also knows when and where each strike landed: timed truth,\nwhich you would need a camera for.", [][]string{
			{"label", "truth", "-C", c, "--session", "monday", "--complete", "--author", "simulation", in("logs", "monday-truth.csv")},
			{"label", "truth", "-C", c, "--session", "friday", "--complete", "--author", "simulation", in("logs", "friday-truth.csv")},
		}},
		demoStep{"Every detector is trained on the plan's labels of one evening and scored\nagainst the timed truth of the other.", [][]string{
			{"compare", "-C", c, "--sessions", "monday,friday", "--truth", "plan", "--score", "timed", "--report", sum.Report},
		}},
		demoStep{"One detector is trained on both evenings, and says where every strike\nlanded.", [][]string{
			{"train", "-C", c, "--sessions", "monday,friday", "--truth", "plan", "--detector", "complex-ridge", "-o", sum.Detector},
			{"apply", "-C", c, "--sessions", "monday,friday", "--detector", sum.Detector, "-o", sum.Strikes},
		}},
		demoStep{"It leaves as a table of numbers with C code for the board.", [][]string{
			{"export", "-C", c, "--detector", sum.Detector, "--rig", rig, "-o", sum.Firmware},
		}},
		demoStep{"The corpus is verified.", [][]string{
			{"check", "-C", c},
		}},
	), sum
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
	say("The whole job on recordings that are SIMULATED, some by this program and some by\nan independent physics engine (MuJoCo); no person was recorded.\n")
	steps, sum := demoSteps(dir)
	for i, step := range steps {
		say("\n%d. %s\n", i+1, step.about)
		for _, args := range step.commands {
			say("\n$ strikerose %s\n", shell.Line(args...))
			w := a.world
			w.out = out
			root := newRoot(w)
			root.PersistentPostRun = nil // what comes next is the next step
			root.SetArgs(append([]string{"--seed", fmt.Sprint(a.seed), fmt.Sprintf("--quiet=%t", a.quiet)}, args...))
			if err := root.ExecuteContext(ctx); err != nil {
				return fmt.Errorf("demo: strikerose %s: %w", shell.Line(args...), err)
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

// makeDemoDir makes the directory and writes rig files and recordings into it.
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
	for name, files := range map[string]fs.FS{"logs": recordings.Files, "rigs": rigs.Files} {
		if err := os.CopyFS(filepath.Join(dir, name), files); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	return nil
}
