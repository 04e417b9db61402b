package main

import (
	"context"
	"errors"
	"os"
)

// importStream imports a recording repeated to an amount (see tile) from a pipe, and
// tells what the import took, tiling left out.
func (w *workspace) importStream(ctx context.Context, r recording, dir string, amount ...string) (usage, int64, error) {
	in, out, err := os.Pipe()
	if err != nil {
		return usage{}, 0, err
	}
	defer in.Close()
	defer out.Close()
	source := w.tile(ctx, r, amount...)
	source.Stdout = out
	if err := source.Start(); err != nil {
		return usage{}, 0, err
	}
	out.Close() // the source has its own
	sink := command(ctx, w.program, "import", "--json", "-C", dir, "--rig", r.Rig, "--session", "long", "-")
	sink.Stdin = in
	sink.Env = append(os.Environ(), "TMPDIR="+w.dir)
	u, said, err := measure(sink)
	in.Close() // so that the source ends if the import has
	if err = errors.Join(err, source.Wait()); err != nil {
		return u, 0, err
	}
	n, err := samplesImported(said)
	return u, n, err
}
