package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

type manyFlags struct {
	sessions int
	samples  int64
	runs     int
}

func newMany(a *app) *cobra.Command {
	var f manyFlags
	cmd := &cobra.Command{
		Use:   "many",
		Short: "Open a corpus of many sessions and find in one of them",
		Long: `Make a corpus of many sessions by repeating a recording, and tell how long it
takes to list them, to find in one of them, and which files of other sessions
that one's find opened (where strace is installed). A sample takes some 17 bytes
of disk: a billion need 17 GB.`,
		Example: "go run ./cmd/bench many --sessions 1000 --samples 1000000000",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.sessions < 2 || f.runs < 1 || f.samples/int64(f.sessions) < leastManySamples {
				return usagef("many: give --sessions of 2 or more, --runs of 1 or more and --samples of %d or more a session", leastManySamples)
			}
			return a.in(cmd.Context(), func(w *workspace) error { return a.many(cmd.Context(), w, f) })
		},
	}
	cmd.Flags().IntVar(&f.sessions, "sessions", 1000, "`N` sessions")
	cmd.Flags().Int64Var(&f.samples, "samples", 100_000_000, "`N` samples in all of them")
	cmd.Flags().IntVar(&f.runs, "runs", 5, "`N` runs of each command")
	return cmd
}

// leastManySamples of a session hold a strike or some.
const leastManySamples = 10_000

// opened is what many tells.
type opened struct {
	Log         string `json:"log"`
	Sessions    int    `json:"sessions"`
	Samples     int64  `json:"samples"`
	CorpusBytes int64  `json:"corpus_bytes"`
	List        usage  `json:"list"`
	Find        usage  `json:"find"`

	// What find of one session opened, by strace; nil where there is none.
	Own    *int `json:"files_of_it,omitempty"`
	Others *int `json:"files_of_other_sessions,omitempty"`
}

func (a *app) many(ctx context.Context, w *workspace, f manyFlags) error {
	r, err := a.recordingOf(ctx, w, "counts-csv")
	if err != nil {
		return err
	}
	dir := w.path("corpus")
	each := f.samples / int64(f.sessions)
	if err := enoughDisk(w.dir, f.samples); err != nil {
		return err
	}
	if err := w.clear("corpus"); err != nil {
		return err
	}
	a.note("writing %d sessions of %d samples ...", f.sessions, each)
	if _, err := runChild(ctx, w.self, "fill", "--sessions", fmt.Sprint(f.sessions), "--samples", fmt.Sprint(each), "--rig", r.Rig, dir, r.Log); err != nil {
		return err
	}
	o := opened{Log: r.origin(), Sessions: f.sessions, Samples: each * int64(f.sessions)}
	if o.CorpusBytes, err = sizeOf(dir); err != nil {
		return err
	}
	one := manyName(f.sessions / 2)
	find := []string{"find", "--quiet", "-C", dir, "--sessions", one}
	var lists, finds []usage
	for range f.runs {
		u, err := runChild(ctx, w.program, "session", "list", "-C", dir)
		if err != nil {
			return err
		}
		lists = append(lists, u)
		if u, err = runChild(ctx, w.program, find...); err != nil {
			return err
		}
		finds = append(finds, u)
	}
	o.List, o.Find = medians(lists), medians(finds)
	if own, others, ok, err := opens(ctx, w, one, find); err != nil {
		return err
	} else if ok {
		o.Own, o.Others = &own, &others
	}
	if err := w.clear("corpus"); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(o)
	}
	fmt.Fprintf(a.out, "%d sessions, %d samples, %.3g GB, repeated from %s; medians of %d\n\n%-20s %9s %9s %9s\n", o.Sessions, o.Samples, float64(o.CorpusBytes)/1e9, o.Log, f.runs, "command", "time s", "CPU s", "peak MB")
	fmt.Fprintf(a.out, "%-20s %9.3f %9.3f %9.0f\n", "session list", o.List.WallS, o.List.CPUS, o.List.PeakMB)
	fmt.Fprintf(a.out, "%-20s %9.3f %9.3f %9.0f\n\n", "find of one session", o.Find.WallS, o.Find.CPUS, o.Find.PeakMB)
	if o.Own == nil {
		fmt.Fprintln(a.out, "strace is not installed: which files find opened is not known")
		return nil
	}
	fmt.Fprintf(a.out, "find of one session opened %d files of it and %d of other sessions\n", *o.Own, *o.Others)
	return nil
}

// opens traces a command and counts the different files that it opened of one
// session and of all others.
func opens(ctx context.Context, w *workspace, session string, args []string) (own, others int, ok bool, err error) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		return 0, 0, false, nil
	}
	trace := w.path("trace")
	if _, err := runChild(ctx, strace, append([]string{"-f", "-qq", "-e", "trace=open,openat", "-o", trace, w.program}, args...)...); err != nil {
		return 0, 0, false, err
	}
	text, err := os.ReadFile(trace)
	if err != nil {
		return 0, 0, false, err
	}
	var files []string
	for _, m := range regexp.MustCompile(`"([^"]*/session=[^"/]*/[^"]*)".*= \d+`).FindAllStringSubmatch(string(text), -1) {
		files = append(files, m[1])
	}
	slices.Sort(files)
	for _, file := range slices.Compact(files) {
		if strings.Contains(file, "/session="+session+"/") {
			own++
		} else {
			others++
		}
	}
	return own, others, true, os.Remove(trace)
}

// bytesASample is what a sample takes on disk at most.
const bytesASample = 20

// enoughDisk refuses to fill the disk.
func enoughDisk(dir string, samples int64) error {
	free, err := freeBytes(dir)
	if err != nil {
		return err
	}
	if need := samples*bytesASample + 2e9; need > free {
		return fmt.Errorf("%s: %.3g GB are free where %.3g are needed: give fewer --samples, or another --scratch", dir, float64(free)/1e9, float64(need)/1e9)
	}
	return nil
}

func manyName(i int) string { return fmt.Sprintf("session%05d", i+1) }
