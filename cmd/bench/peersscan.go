package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"strikerose/dataset/corpus"
)

// scanned is what a scan tells of the samples of a corpus.
type scanned struct {
	Samples int64   `json:"samples"`
	LeastAX float64 `json:"least_ax"`
	MostAX  float64 `json:"most_ax"`
	MeanAZ  float64 `json:"mean_az"`
	MeanGZ  float64 `json:"mean_gz"`
}

// newScan is run by peers as a process of its own.
func newScan(a *app) *cobra.Command {
	return &cobra.Command{
		Use:    "scan DIR",
		Short:  "Sum up the samples of a corpus",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := scan(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			return json.NewEncoder(a.out).Encode(s)
		},
	}
}

// scan reads three columns of all samples of a corpus, sessions side by side.
func scan(ctx context.Context, dir string) (scanned, error) {
	c, err := corpus.Open(dir)
	if err != nil {
		return scanned{}, err
	}
	sessions, err := c.Sessions()
	if err != nil {
		return scanned{}, err
	}
	total := scanned{LeastAX: math.Inf(1), MostAX: math.Inf(-1)}
	var mu sync.Mutex
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(processors())
	for _, s := range sessions {
		g.Go(func() error {
			return c.EachReading(ctx, s.Name, []string{"ax_mps2", "az_mps2", "gz_radps"}, func(values [][]float32) error {
				one := scanOf(values[0], values[1], values[2])
				mu.Lock()
				defer mu.Unlock()
				total.add(one)
				return nil
			})
		})
	}
	if err := g.Wait(); err != nil {
		return scanned{}, err
	}
	total.MeanAZ /= float64(total.Samples)
	total.MeanGZ /= float64(total.Samples)
	return total, nil
}

// scanOf holds sums where the whole has means.
func scanOf(ax, az, gz []float32) scanned {
	s := scanned{Samples: int64(len(ax)), LeastAX: float64(slices.Min(ax)), MostAX: float64(slices.Max(ax))}
	for _, v := range az {
		s.MeanAZ += float64(v)
	}
	for _, v := range gz {
		s.MeanGZ += float64(v)
	}
	return s
}

func (s *scanned) add(t scanned) {
	s.Samples += t.Samples
	s.LeastAX, s.MostAX = min(s.LeastAX, t.LeastAX), max(s.MostAX, t.MostAX)
	s.MeanAZ += t.MeanAZ
	s.MeanGZ += t.MeanGZ
}

// agree compares two scans; means may differ by the order of their sums.
func (s scanned) agree(t scanned) error {
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-5*max(1, math.Abs(a)) }
	if s.Samples != t.Samples || s.LeastAX != t.LeastAX || s.MostAX != t.MostAX || !near(s.MeanAZ, t.MeanAZ) || !near(s.MeanGZ, t.MeanGZ) {
		return fmt.Errorf("%+v and %+v", s, t)
	}
	return nil
}

// scanContest sums up all samples of a corpus, against DuckDB on the same files.
func scanContest(w *workspace, p *peers, dir string, samples int64) (*contest, error) {
	size, err := sizeOf(filepath.Join(dir, "samples"))
	if err != nil {
		return nil, err
	}
	var ours, theirs scanned
	sql := fmt.Sprintf(`SELECT count(*)::INTEGER AS samples, min(ax_mps2)::DOUBLE AS least_ax, max(ax_mps2)::DOUBLE AS most_ax,
		avg(az_mps2::DOUBLE) AS mean_az, avg(gz_radps::DOUBLE) AS mean_gz FROM read_parquet(%s)`, quoted(filepath.ToSlash(dir)+"/samples/**/*.parquet"))
	return &contest{
		name: "scan", samples: samples, bytes: size, peer: "DuckDB", target: 1,
		about: "Count, least, most and means of three columns of all sessions of the same Parquet files. Either reads these columns only.",
		ours: func(ctx context.Context) (usage, error) {
			u, said, err := measure(command(ctx, w.self, "scan", dir))
			if err == nil {
				err = json.Unmarshal(said, &ours)
			}
			return u, err
		},
		theirs: func(ctx context.Context) (usage, error) {
			u, said, err := p.duckDB(ctx, sql)
			if err == nil {
				rows := []scanned{}
				if err = json.Unmarshal(said, &rows); err == nil && len(rows) == 1 {
					theirs = rows[0]
				}
			}
			return u, err
		},
		agree: func() (string, error) { return "All five numbers agree.", ours.agree(theirs) },
	}, nil
}
