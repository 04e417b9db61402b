package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
)

func newMemory(a *app) *cobra.Command {
	var size, dialect string
	cmd := &cobra.Command{
		Use:   "memory --size BYTES",
		Short: "Import a log of any length from a pipe and tell time and peak memory",
		Long: `Import a log of any length, repeated from a recording and never on disk as a
whole, from a pipe, and tell the time and peak resident memory of the import. The
disk takes the log as it came, compressed, and the samples.`,
		Example: "go run ./cmd/bench memory --size 20GB",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bytes, err := parseSize(size)
			if err != nil {
				return usagef("memory: --size: %w", err)
			}
			return a.in(cmd.Context(), func(w *workspace) error { return a.memory(cmd.Context(), w, dialect, bytes) })
		},
	}
	cmd.Flags().StringVar(&size, "size", "200MB", "`BYTES` of the log, such as 200MB or 20GB")
	cmd.Flags().StringVar(&dialect, "dialect", "counts-csv", "`NAME` of the log's dialect")
	return cmd
}

// streamed is what memory tells.
type streamed struct {
	Log     string `json:"log"`
	Bytes   int64  `json:"bytes"`
	Samples int64  `json:"samples"`
	usage
	CorpusBytes int64 `json:"corpus_bytes"`
}

func (a *app) memory(ctx context.Context, w *workspace, dialect string, bytes int64) error {
	r, err := a.recordingOf(ctx, w, dialect)
	if err != nil {
		return err
	}
	if err := w.clear("corpus"); err != nil {
		return err
	}
	s := streamed{Log: r.origin(), Bytes: bytes}
	if s.usage, s.Samples, err = w.importStream(ctx, r, w.path("corpus"), "--size", fmt.Sprint(bytes)); err != nil {
		return err
	}
	if s.CorpusBytes, err = sizeOf(w.path("corpus")); err != nil {
		return err
	}
	if err := w.clear("corpus"); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(s)
	}
	fmt.Fprintf(a.out, `import of %.0f MB from a pipe, repeated from %s
samples        %d
time           %.2f s, %.1f MB/s, %.2f million samples/s
user, system   %.2f s
peak resident  %.0f MB
corpus         %.0f MB on disk
`, float64(bytes)/1e6, s.Log, s.Samples, s.WallS, float64(bytes)/1e6/s.WallS, float64(s.Samples)/1e6/s.WallS, s.CPUS, s.PeakMB, float64(s.CorpusBytes)/1e6)
	return nil
}
