package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/spf13/cobra"

	"strikerose/dataset/rig"
)

func newTile(a *app) *cobra.Command {
	var rigFile, dialect, size string
	var records int64
	cmd := &cobra.Command{
		Use:   "tile --size BYTES LOG",
		Short: "Write a log of any length by repeating a recording",
		Long: `Write a log of any length on standard output by repeating a recording, plain,
gzip or zstd, with its time stamps carried on. Damage and restarts in it are
repeated too. Frames need --rig for their layout.`,
		Example: `go run ./cmd/bench tile --size 20GB --rig hall.toml friday.bin.zst |
  strikerose import -C big --rig hall.toml --session long -`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usagef("tile: give one log to repeat")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			bytes := int64(0)
			if size != "" {
				var err error
				if bytes, err = parseSize(size); err != nil {
					return usagef("tile: --size: %w", err)
				}
			}
			if (bytes > 0) == (records > 0) {
				return usagef("tile: give either --size or --records")
			}
			return a.tile(cmd.Context(), args[0], rigFile, dialect, bytes, records)
		},
	}
	cmd.Flags().StringVar(&rigFile, "rig", "", "the rig `FILE`, for frames")
	cmd.Flags().StringVar(&dialect, "dialect", "", "`NAME` of the log's dialect, as strikerose import says it; default from the log's name and first bytes")
	cmd.Flags().StringVar(&size, "size", "", "`BYTES` to write, such as 200MB or 20GB")
	cmd.Flags().Int64Var(&records, "records", 0, "`N` records to write")
	return cmd
}

func (a *app) tile(ctx context.Context, path, rigFile, dialect string, bytes, records int64) error {
	log, err := readPlain(path, math.MaxInt64)
	if err != nil {
		return err
	}
	if dialect == "" {
		dialect = dialectOf(log)
	}
	t, err := tilerOf(log, dialect, rigFile)
	if err != nil {
		return fmt.Errorf("tile: %s: %w", path, err)
	}
	_, err = t.write(ctx, a.out, bytes, records)
	return err
}

// tilerOf prepares a log of a rig.
func tilerOf(log []byte, dialect, rigFile string) (*tiler, error) {
	var layout *rig.FrameLayout
	if rigFile != "" && dialect == "frames" {
		r, err := rig.Load(rigFile)
		if err != nil {
			return nil, err
		}
		if r.Log.Frame != nil {
			l, err := r.Log.Frame.Parse()
			if err != nil {
				return nil, err
			}
			layout = &l
		}
	}
	return newTiler(log, dialect, layout)
}

// headBytes of a log tell its dialect.
const headBytes = 4096

// dialectOf guesses a dialect of a log that the tiler can repeat.
func dialectOf(log []byte) string {
	head := log[:min(len(log), headBytes)]
	switch {
	case bytes.IndexByte(head, 0) >= 0:
		return "frames"
	case bytes.HasPrefix(head, []byte("{")):
		return "jsonl"
	case bytes.Contains(head, []byte("\nt:")) || bytes.HasPrefix(head, []byte("t:")):
		return "console"
	case bytes.Contains(head, []byte("_ms")):
		return "units-csv"
	}
	return "counts-csv"
}

// readPlain reads a log, plain, gzip or zstd, or its first bytes.
func readPlain(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var r io.Reader = f
	switch {
	case strings.HasSuffix(path, ".gz"):
		if r, err = gzip.NewReader(f); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	case strings.HasSuffix(path, ".zst"):
		z, err := zstd.NewReader(f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		defer z.Close()
		r = z
	}
	log, err := io.ReadAll(io.LimitReader(r, most))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return log, nil
}

// parseSize reads a number of bytes with an optional unit of a thousand.
func parseSize(s string) (int64, error) {
	number, unit := strings.TrimSpace(s), int64(1)
	for _, u := range []struct {
		name  string
		bytes int64
	}{{"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}, {"B", 1}} {
		if rest, ok := strings.CutSuffix(number, u.name); ok {
			number, unit = strings.TrimSpace(rest), u.bytes
			break
		}
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || !(v > 0 && v < 1e9*1e9/float64(unit)) {
		return 0, fmt.Errorf("%q is no size: write 200MB or 20GB", s)
	}
	return int64(v * float64(unit)), nil
}
