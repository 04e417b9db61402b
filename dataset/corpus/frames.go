package corpus

import (
	"io"

	"github.com/klauspost/compress/zstd"
)

// frameWriter compresses a stream into Zstandard frames, the way that costs
// least: readings in digits or raw are coded by Huffman alone, which takes a
// fraction of the time of looking for repetitions; text that repeats itself,
// such as names of values in every line, is looked through for repetitions,
// where that spares two fifths of the room. It takes a few megabytes. The same
// bytes give the same frames, however they come.
type frameWriter struct {
	out      io.Writer
	filling  []byte
	spare    []byte
	busy     chan error // holds the outcome of the frame that is being written
	writing  bool
	failed   error // the first error, after which nothing is written
	literals literals
	zstd     *zstd.Encoder
	room     []byte
	frames   int
	repeats  bool // the latest frames that were looked at repeat themselves
}

const (
	frameBytes = 1 << 20
	// Every so many frames a part is compressed both ways.
	framesAlike = 16
	trialBytes  = 64 << 10
)

func newFrameWriter(out io.Writer) (*frameWriter, error) {
	z, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(frameBytes))
	if err != nil {
		return nil, err
	}
	return &frameWriter{out: out, zstd: z, busy: make(chan error, 1)}, nil
}

// Write adds bytes. An error may be of bytes that were added before.
func (w *frameWriter) Write(p []byte) (n int, err error) {
	for len(p) > 0 {
		k := min(len(p), frameBytes-len(w.filling))
		w.filling = append(w.filling, p[:k]...)
		p, n = p[k:], n+k
		if len(w.filling) < frameBytes {
			continue
		}
		if err := w.flush(); err != nil {
			return n, err
		}
	}
	return n, nil
}

// flush hands on what was filled, after the frame before it is written.
func (w *frameWriter) flush() error {
	if err := w.wait(); err != nil {
		return err
	}
	full := w.filling
	w.filling, w.spare = w.spare[:0], full
	w.writing = true
	go func() { w.busy <- w.frame(full) }()
	return nil
}

func (w *frameWriter) wait() error {
	if w.writing {
		w.writing = false
		w.failed = <-w.busy
	}
	return w.failed
}

// Close writes the rest. Nothing at all becomes no frame.
func (w *frameWriter) Close() error {
	if len(w.filling) > 0 {
		if err := w.flush(); err != nil {
			return err
		}
	}
	return w.wait()
}

// frame compresses and writes one frame.
func (w *frameWriter) frame(b []byte) (err error) {
	defer recovered(&err)
	if w.frames%framesAlike == 0 {
		part := b[:min(len(b), trialBytes)]
		if w.room, err = w.literals.appendFrame(w.room[:0], part); err != nil {
			return err
		}
		plain := len(w.room)
		w.room = w.zstd.EncodeAll(part, w.room[:0])
		w.repeats = len(w.room) < plain*6/10
	}
	w.frames++
	if w.repeats {
		w.room = w.zstd.EncodeAll(b, w.room[:0])
	} else if w.room, err = w.literals.appendFrame(w.room[:0], b); err != nil {
		return err
	}
	_, err = w.out.Write(w.room)
	return err
}
