package main

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"strikerose/dataset/corpus"
)

// newColumns is run by peers as a process of its own.
func newColumns(*app) *cobra.Command {
	return &cobra.Command{
		Use:    "columns CORPUS DIR",
		Short:  "Write the samples of a corpus as bare columns, a folder a session",
		Hidden: true,
		Args:   cobra.ExactArgs(2),
		RunE:   func(cmd *cobra.Command, args []string) error { return writeColumns(cmd.Context(), args[0], args[1]) },
	}
}

// writeColumns writes little-endian numbers without any header.
func writeColumns(ctx context.Context, from, to string) error {
	c, err := corpus.Open(from)
	if err != nil {
		return err
	}
	sessions, err := c.Sessions()
	if err != nil {
		return err
	}
	for _, s := range sessions {
		sig, err := c.Signal(ctx, s.Name)
		if err != nil {
			return err
		}
		dir := filepath.Join(to, s.Name)
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
		for name, column := range map[string]any{
			"t_ns.i8": sig.TNs, "segment.i4": sig.Segment,
			"ax.f4": sig.A[0], "ay.f4": sig.A[1], "az.f4": sig.A[2], "gx.f4": sig.G[0], "gy.f4": sig.G[1], "gz.f4": sig.G[2],
		} {
			data, err := binary.Append(nil, binary.LittleEndian, column)
			if err != nil {
				return err
			}
			if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
				return err
			}
		}
	}
	return nil
}

func writeJSON(path string, value any) error {
	data, err := json.Marshal(value)
	if err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o644)
}
