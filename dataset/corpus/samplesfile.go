package corpus

import (
	"context"
	"fmt"
	"os"
	"path"
	"path/filepath"

	"strikerose/dataset"
)

// samplesFile is a samples part that is being written under a temporary name. It
// takes the memory of two row groups, whatever the session's length.
type samplesFile struct {
	corpus  *Corpus
	rel     string // where it will lie
	place   place
	file    *os.File // nil once it is closed
	name    string   // temporary
	out     *fileWriter
	check   signalCheck
	filling *dataset.Signal
	failed  error // the first error, after which nothing is written
}

// newSamplesFile starts a samples part. The caller holds the session's lock.
func (c *Corpus) newSamplesFile(p place, gyro bool) (_ *samplesFile, err error) {
	rel := part("samples", p.rig, p.session)
	if err := makeDir(filepath.Dir(c.path(rel))); err != nil {
		return nil, explain(err)
	}
	f := &samplesFile{corpus: c, rel: rel, place: p, check: signalCheck{gyro: gyro}}
	f.filling = newStretch(gyro)
	if f.file, err = createTemp(c.path(rel)); err != nil {
		return nil, explain(err)
	}
	f.name = f.file.Name()
	f.out = newFileWriter(f.file, samplesTable(), samplesMeta(p.rig, p.session, gyro))
	return f, nil
}

// newStretch is a signal with room for one row group, made when it is needed.
func newStretch(gyro bool) *dataset.Signal {
	sig := new(dataset.Signal)
	if gyro {
		sig.G = [3][]float32{{}, {}, {}}
	}
	return sig
}

func (f *samplesFile) explain(err error) error {
	return explain(fmt.Errorf("session %s: samples: %w", f.place.session, err))
}

// append adds the next samples, of any number.
func (f *samplesFile) append(ctx context.Context, sig *dataset.Signal) error {
	if f.failed == nil {
		if err := f.check.add(sig); err != nil {
			f.failed = fmt.Errorf("corpus: session %s: %w", f.place.session, err)
		}
	}
	if f.failed != nil {
		return f.failed
	}
	for from, n := 0, sig.Len(); from < n; {
		to := min(n, from+rowGroupRows-f.filling.Len())
		part := sig.Slice(from, to)
		appendStretch(f.filling, &part)
		from = to
		if f.filling.Len() < rowGroupRows {
			continue
		}
		if err := f.flush(ctx); err != nil {
			return err
		}
	}
	return nil
}

// appendStretch adds samples to a signal with a gyroscope if they have one.
func appendStretch(to, sig *dataset.Signal) {
	to.TNs, to.TRaw, to.Segment = append(to.TNs, sig.TNs...), append(to.TRaw, sig.TRaw...), append(to.Segment, sig.Segment...)
	for k := range 3 {
		to.A[k] = append(to.A[k], sig.A[k]...)
		if sig.HasGyro() {
			to.G[k] = append(to.G[k], sig.G[k]...)
		}
	}
}

// emptied is a signal without samples that keeps its room.
func emptied(sig *dataset.Signal) {
	sig.TNs, sig.TRaw, sig.Segment = sig.TNs[:0], sig.TRaw[:0], sig.Segment[:0]
	for k := range 3 {
		sig.A[k], sig.G[k] = sig.A[k][:0], sig.G[k][:0]
	}
}

// flush writes what was filled.
func (f *samplesFile) flush(ctx context.Context) error {
	if err := f.out.group(ctx, sampleColumns(f.place.rig, f.place.session, f.filling)); err != nil {
		f.failed = f.explain(err)
	}
	emptied(f.filling)
	return f.failed
}

// close writes the rest, syncs the file and returns its checksum.
func (f *samplesFile) close(ctx context.Context) (digest string, err error) {
	if f.failed == nil {
		_ = f.flush(ctx)
	}
	if f.failed != nil {
		return "", f.failed
	}
	digest, err = f.out.close()
	err = closeSynced(f.file, err)
	f.file = nil
	if err != nil {
		return "", f.explain(err)
	}
	return digest, nil
}

// remove ends the writing and removes the file and the folders made for it.
func (f *samplesFile) remove() error {
	if f.file != nil {
		f.file.Close()
		f.file = nil
	}
	err := os.Remove(f.name)
	f.corpus.pruneEmpty(path.Dir(f.rel))
	return explain(err)
}

// stage adds the rename of a closed file to a change.
func (f *samplesFile) stage(ch *change) {
	ch.move(path.Dir(f.rel)+"/"+filepath.Base(f.name), f.rel)
}
