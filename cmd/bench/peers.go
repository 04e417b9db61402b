package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"strikerose/dataset/simulate"
)

// processors that ours and the peers have.
func processors() int { return runtime.GOMAXPROCS(0) }

// parts are what peers measures, in this order.
func parts() []string { return []string{"import", "scan", "find", "forest", "program"} }

type peersFlags struct {
	runs    int
	samples int64
	only    []string
}

func newPeers(a *app) *cobra.Command {
	var f peersFlags
	cmd := &cobra.Command{
		Use:   "peers",
		Short: "Compare ours with its peers on the same data in the same run",
		Long: `Compare ours with its peers: medians of runs in which both take turns on the same
files. Recordings are repeated to --samples. Times are of whole processes, start
included. Whatever the numbers are of is checked to be the same work, as far as
the peer does it; what it does not do is said below the table.`,
		Example: `go run ./cmd/bench peers
go run ./cmd/bench peers --only import,scan --samples 1000000 --runs 3`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			for _, name := range f.only {
				if !slices.Contains(parts(), name) {
					return usagef("peers: --only %s: use some of %s", name, strings.Join(parts(), ","))
				}
			}
			if f.runs < 1 || f.samples < 100_000 {
				return usagef("peers: give --runs of 1 or more and --samples of 100000 or more")
			}
			return a.in(cmd.Context(), func(w *workspace) error { return a.peers(cmd.Context(), w, f) })
		},
	}
	cmd.Flags().IntVar(&f.runs, "runs", 5, "`N` runs of each")
	cmd.Flags().Int64Var(&f.samples, "samples", 3_000_000, "`N` samples in each log")
	cmd.Flags().StringSliceVar(&f.only, "only", nil, "`PARTS` to measure: "+strings.Join(parts(), ","))
	return cmd
}

// compared is all that peers tells.
type compared struct {
	Processors int       `json:"processors"`
	Logs       []string  `json:"logs"`
	Outcomes   []outcome `json:"outcomes"`
	Figures    []figure  `json:"figures,omitempty"`
}

func (a *app) peers(ctx context.Context, w *workspace, f peersFlags) error {
	p, err := a.preparePeers(w)
	if err != nil {
		return err
	}
	wanted := func(part string) bool { return len(f.only) == 0 || slices.Contains(f.only, part) }
	said := compared{Processors: processors()}
	enter := func(c *contest, err error) error {
		if err != nil {
			return err
		}
		a.note("%s ...", c.name)
		o, err := c.run(ctx, f.runs)
		said.Outcomes = append(said.Outcomes, o)
		return err
	}
	if wanted("import") {
		for _, dialect := range simulate.Dialects() {
			c, r, err := a.importContest(ctx, w, p, dialect, f.samples)
			if err := enter(c, err); err != nil {
				return err
			}
			said.Logs = append(said.Logs, r.origin())
			if err := w.clear(dialect+".log", "corpus-"+dialect, "peer-"+dialect, "parquet"); err != nil {
				return err
			}
		}
	}
	if wanted("scan") || wanted("find") {
		dir, r, samples, err := a.sampleCorpus(ctx, w, f.samples)
		if err != nil {
			return err
		}
		said.Logs = append(said.Logs, r.origin())
		if wanted("scan") {
			if err := enter(scanContest(w, p, dir, samples)); err != nil {
				return err
			}
		}
		if wanted("find") {
			if err := enter(findContest(ctx, w, p, dir, samples)); err != nil {
				return err
			}
		}
	}
	if wanted("forest") {
		fit, predict, err := forestContests(w, p)
		if err := enter(fit, err); err != nil {
			return err
		}
		if err := enter(predict, nil); err != nil {
			return err
		}
	}
	if wanted("program") {
		if said.Figures, err = programFigures(ctx, w, f.runs); err != nil {
			return err
		}
	}
	slices.Sort(said.Logs)
	said.Logs = slices.Compact(said.Logs)
	return a.tellPeers(said)
}

func (a *app) tellPeers(said compared) error {
	if a.json {
		return a.printJSON(said)
	}
	repeated := "nothing"
	if len(said.Logs) > 0 {
		repeated = strings.Join(said.Logs, ", ")
	}
	fmt.Fprintf(a.out, "%s\n\n", wrapped(fmt.Sprintf("On %d processors. Repeated: %s.", said.Processors, repeated), 80))
	if len(said.Outcomes) > 0 {
		printOutcomes(a.out, said.Outcomes)
	}
	printFigures(a.out, said.Figures)
	return nil
}

func (a *app) printJSON(value any) error {
	enc := json.NewEncoder(a.out)
	enc.SetIndent("", "  ")
	return enc.Encode(value)
}

// sampleCorpus makes a corpus of a few sessions from one recording with a gyroscope.
func (a *app) sampleCorpus(ctx context.Context, w *workspace, samples int64) (dir string, r recording, kept int64, err error) {
	if r, err = a.recordingOf(ctx, w, "counts-csv"); err != nil {
		return "", r, 0, err
	}
	const sessions = 4
	dir = w.path("corpus")
	if err := w.clear("corpus"); err != nil {
		return "", r, 0, err
	}
	for i := range int64(sessions) {
		log := w.path("session.log")
		if err := r.tileTo(ctx, w, log, samples/sessions+i); err != nil { // of different lengths, since a log is held once
			return "", r, 0, err
		}
		_, said, err := measure(command(ctx, w.program, "import", "--json", "-C", dir, "--rig", r.Rig, "--session", fmt.Sprintf("session%d", i+1), log))
		if err != nil {
			return "", r, 0, err
		}
		n, err := samplesImported(said)
		if err != nil {
			return "", r, 0, err
		}
		kept += n
	}
	return dir, r, kept, w.clear("session.log")
}

// clear removes files and folders below the workspace.
func (w *workspace) clear(names ...string) error {
	for _, name := range names {
		if err := os.RemoveAll(w.path(name)); err != nil {
			return err
		}
	}
	return nil
}
