package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"strikerose/models/trees"
)

// The forest that both grow: what a session of training asks for, and the rows that
// both answer.
const (
	forestRows    = 5000
	forestAnswers = 20_000
	forestColumns = 60
	forestTrees   = 200
	forestTry     = 20
	forestLeaf    = 5
)

// grown is what either side tells of its forest.
type grown struct {
	FitS        float64 `json:"fit_s"`
	FitCPUS     float64 `json:"fit_cpu_s"`
	PredictS    float64 `json:"predict_s"`
	PredictCPUS float64 `json:"predict_cpu_s"`
	Error       float64 `json:"error"` // mean absolute, over the rows answered
}

// newForest is run by peers as a process of its own.
func newForest(a *app) *cobra.Command {
	return &cobra.Command{
		Use:    "forest DIR",
		Short:  "Grow a forest and answer with it",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			g, err := grow(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			return json.NewEncoder(a.out).Encode(g)
		},
	}
}

// writeProblem writes two tables of made-up numbers: rows of forestColumns
// features, evenly from 0 to 1, and what is to be learned, of Friedman's kind
// (Friedman 1991, Ann Statist 19:1, section 4.3) with noise of 1.
func writeProblem(dir string) error {
	rng := rand.New(rand.NewPCG(1, 0))
	for name, rows := range map[string]int{"train.f8": forestRows, "test.f8": forestAnswers} {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		out := bufio.NewWriter(f)
		var row [forestColumns + 1]float64
		for range rows {
			for k := range forestColumns {
				row[k] = rng.Float64()
			}
			row[forestColumns] = 10*math.Sin(math.Pi*row[0]*row[1]) + 20*(row[2]-0.5)*(row[2]-0.5) + 10*row[3] + 5*row[4] + rng.NormFloat64()
			if err := binary.Write(out, binary.LittleEndian, row[:]); err != nil {
				return err
			}
		}
		if err := out.Flush(); err != nil {
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
	}
	return nil
}

// readProblem reads one of the tables, row by row.
func readProblem(path string) (x [][]float64, y []float64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	in := bufio.NewReader(f)
	for {
		row := make([]float64, forestColumns+1)
		switch err := binary.Read(in, binary.LittleEndian, row); err {
		case nil:
			x, y = append(x, row[:forestColumns]), append(y, row[forestColumns])
		case io.EOF:
			return x, y, nil
		default:
			return nil, nil, fmt.Errorf("%s: %w", path, err)
		}
	}
}

// grow fits our forest and times it, reading left out.
func grow(ctx context.Context, dir string) (grown, error) {
	x, y, err := readProblem(filepath.Join(dir, "train.f8"))
	if err != nil {
		return grown{}, err
	}
	ask, truth, err := readProblem(filepath.Join(dir, "test.f8"))
	if err != nil {
		return grown{}, err
	}
	var g grown
	lap := stopwatch()
	columns := make([]float64, 0, len(x)*forestColumns)
	for k := range forestColumns {
		for _, row := range x {
			columns = append(columns, row[k])
		}
	}
	table, err := trees.NewTable(columns, len(x), trees.MostBins)
	if err != nil {
		return g, err
	}
	target, err := trees.Numbers(y, nil)
	if err != nil {
		return g, err
	}
	f, _, err := trees.GrowForest(ctx, table, target, trees.Bagging{Growth: trees.Growth{Try: forestTry, MinLeaf: forestLeaf}, Trees: forestTrees}, 1)
	if err != nil {
		return g, err
	}
	g.FitS, g.FitCPUS = lap()
	for i, mean := range f.Means(ask) {
		g.Error += math.Abs(real(mean)-truth[i]) / float64(len(ask))
	}
	g.PredictS, g.PredictCPUS = lap()
	return g, nil
}

// stopwatch returns a function that tells wall and processor time since the last
// call.
func stopwatch() func() (wallS, cpuS float64) {
	wall, cpu := time.Now(), ownCPU()
	return func() (float64, float64) {
		w, c := time.Since(wall).Seconds(), ownCPU()-cpu
		wall, cpu = time.Now(), ownCPU()
		return w, c
	}
}

// forestContests are growing and answering. Both sides do the two in one process,
// which is run for the first and remembered for the second.
func forestContests(w *workspace, p *peers) (fit, predict *contest, err error) {
	dir := w.path("forest")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, nil, err
	}
	if err := writeProblem(dir); err != nil {
		return nil, nil, err
	}
	var last [2]grown
	var answered [2][]usage
	side := func(k int, start func(context.Context) (usage, []byte, error)) func(context.Context) (usage, error) {
		return func(ctx context.Context) (usage, error) {
			u, said, err := start(ctx)
			if err != nil {
				return u, err
			}
			var g grown
			if err := json.Unmarshal(said, &g); err != nil {
				return u, err
			}
			last[k] = g
			answered[k] = append(answered[k], usage{g.PredictS, g.PredictCPUS, u.PeakMB})
			return usage{g.FitS, g.FitCPUS, u.PeakMB}, nil
		}
	}
	fit = &contest{
		name: "forest, grow", samples: forestRows, bytes: forestRows * (forestColumns + 1) * 8, peer: "scikit-learn", target: 1,
		about: fmt.Sprintf("%d trees on %d rows of %d made-up columns on all processors; start and reading left out; samples are rows. Ours sorts columns into at most %d bins, the peer splits between any two values.", forestTrees, forestRows, forestColumns, trees.MostBins),
		ours: side(0, func(ctx context.Context) (usage, []byte, error) {
			return measure(command(ctx, w.self, "forest", dir))
		}),
		theirs: side(1, func(ctx context.Context) (usage, []byte, error) {
			return p.python(ctx, "forest.py", dir, fmt.Sprint(forestColumns), fmt.Sprint(forestTrees), fmt.Sprint(forestTry), fmt.Sprint(forestLeaf), fmt.Sprint(processors()))
		}),
		agree: func() (string, error) {
			if ours, theirs := last[0].Error, last[1].Error; ours > 1.05*theirs || theirs > 1.05*ours {
				return "", fmt.Errorf("mean absolute errors of %.3f and %.3f", ours, theirs)
			}
			return fmt.Sprintf("Mean absolute errors on other rows: ours %.3f, peer %.3f.", last[0].Error, last[1].Error), nil
		},
	}
	next := func(k int) func(context.Context) (usage, error) {
		return func(context.Context) (usage, error) {
			u := answered[k][0]
			answered[k] = answered[k][1:]
			return u, nil
		}
	}
	predict = &contest{
		name: "forest, answer", samples: forestAnswers, bytes: forestAnswers * (forestColumns + 1) * 8, peer: "scikit-learn", target: 1,
		about: fmt.Sprintf("%d rows by the forests just grown, in the same processes; both answer all rows in one call on all processors.", forestAnswers),
		ours:  next(0), theirs: next(1),
	}
	return fit, predict, nil
}
