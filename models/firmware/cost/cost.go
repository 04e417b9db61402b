// Package cost measures what an exported detector takes of a board: flash,
// memory, stack, and the work of a sample and of an answer.
//
// It compiles the exported C for one of the targets of package emulate, and runs
// it there over samples that are compiled in. Nothing is estimated: what a target
// cannot tell is absent. It is used by commands that export or choose detectors.
package cost

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"strikerose/features/chain/board"
	"strikerose/models/firmware/emulate"
)

// Cost is what one detector takes on one target.
type Cost struct {
	Target string `json:"target"`
	Unit   string `json:"unit"` // of the work: instructions or cycles

	FlashBytes int `json:"flash_bytes"` // code and tables, with what they need of the compiler's library
	RAMBytes   int `json:"ram_bytes"`   // the detector's state, and variables
	RingBytes  int `json:"ring_bytes"`  // of RAMBytes: the sample buffer
	StackBytes int `json:"stack_bytes"` // the most that any sample took, as measured
	BoundBytes int `json:"bound_bytes"` // the most that any path of calls can take, without the compiler's library

	PerSample   float64 `json:"per_sample"`   // mean work of a sample without an answer
	WorstSample int     `json:"worst_sample"` // most work of one
	WorstAnswer int     `json:"worst_answer"` // most work of a sample with an answer

	Events string `json:"-"` // lines of the events, as replay.c prints them
}

// File is a file of an exported directory.
type File struct {
	Name string
	Data []byte
}

// Measure compiles the files for a target, takes their sizes and runs the stream
// there. It errors with emulate.ErrMissing where the target's tools are not
// installed, and says how much too large the detector is where it does not fit.
func Measure(ctx context.Context, t emulate.Target, files []File, stream []board.Sample) (*Cost, error) {
	return measure(ctx, t, files, stream, (*measuring).sizes, (*measuring).ring, (*measuring).bound, (*measuring).run)
}

// Run does as Measure, without the sizes.
func Run(ctx context.Context, t emulate.Target, files []File, stream []board.Sample) (*Cost, error) {
	return measure(ctx, t, files, stream, (*measuring).run)
}

func measure(ctx context.Context, t emulate.Target, files []File, stream []board.Sample, steps ...func(*measuring, context.Context, *Cost) error) (*Cost, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "strikerose-cost-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	m := &measuring{target: t, dir: dir}
	if err := m.write(files, stream); err != nil {
		return nil, err
	}
	c := &Cost{Target: t.Name, Unit: t.Unit}
	for _, step := range steps {
		if err := step(m, ctx, c); err != nil {
			return nil, fmt.Errorf("cost on %s: %w", t.Name, err)
		}
	}
	return c, nil
}

// measuring is a measurement under way.
type measuring struct {
	target emulate.Target
	dir    string // with all files
}

func (m *measuring) write(files []File, stream []board.Sample) error {
	all := append([]File{{"stream.h", []byte(streamText(stream))}}, files...)
	for _, name := range []string{"bench.c", "use.c", "empty.c"} {
		text, err := benchFiles.ReadFile("bench/" + name)
		if err != nil {
			return err
		}
		all = append(all, File{name, text})
	}
	for _, f := range all {
		if err := os.WriteFile(filepath.Join(m.dir, f.Name), f.Data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func (m *measuring) build(ctx context.Context, files ...string) (*emulate.Program, error) {
	return m.target.Build(ctx, m.dir, m.dir, files, false)
}
