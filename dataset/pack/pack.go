// Package pack packs logs as zstd (RFC 8878), quickly.
//
// A general zstd encoder spends most of its time looking for repeats. Readings
// of a sensor hardly repeat: what there is to gain in columns of digits and in
// binary frames, Huffman coding of the bytes gives alone, at several times the
// speed. Lines with words that come again and again need the repeats. A Writer
// tries both at the start of each stretch of a log.
package pack

import (
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/huff0"
	"github.com/klauspost/compress/zstd"
)

const (
	blockBytes = 128 << 10 // the most that a block of zstd holds
	// Stretches: one with repeats is short, since a bag at rest repeats itself and
	// the trial's search is of use there; one without is long, since it is lost.
	repeatsBytes = 16 * blockBytes
	huffmanBytes = 64 * blockBytes
	// worthBytes is how many times the bytes of a search for repeats Huffman
	// coding alone may take. A choice without source: columns of digits take 1.1
	// to 1.3 times as many, binary frames 0.86, JSON Lines and console lines 1.7
	// to 2.
	worthBytes = 1.4
)

// Writer packs what is written to it. The packed bytes depend only on all that
// was written, not on the pieces. It is used by one goroutine at a time.
type Writer struct {
	to      io.Writer
	block   []byte // not packed yet; less than blockBytes after Write
	begun   bool   // there was a stretch
	left    int    // bytes of the stretch after those packed
	search  bool   // the stretch is left to repeats
	repeats *zstd.Encoder
	scratch huff0.Scratch
	trial   []byte
	out     []byte
	err     error
}

// NewWriter packs to another writer.
func NewWriter(to io.Writer) (*Writer, error) {
	repeats, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	if err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	return &Writer{
		to: to, repeats: repeats, block: make([]byte, 0, blockBytes),
		// Blocks have the tables that suit them: a table is some sixty bytes.
		scratch: huff0.Scratch{Reuse: huff0.ReusePolicyNone},
	}, nil
}

// Write packs bytes, the last ones of which may wait for more. After an error it
// returns that again.
func (w *Writer) Write(p []byte) (n int, err error) {
	for n < len(p) && w.err == nil {
		k := min(len(p)-n, blockBytes-len(w.block))
		w.block = append(w.block, p[n:n+k]...)
		n += k
		if len(w.block) == blockBytes {
			w.err = w.flush()
		}
	}
	return n, w.err
}

var errClosed = errors.New("pack: closed")

// Close packs what waits and ends the packed bytes. The writer below stays open.
func (w *Writer) Close() error {
	if w.err != nil {
		return w.err
	}
	err := w.flush()
	if err == nil && !w.begun {
		err = w.startStretch()
	}
	if err == nil {
		err = w.endStretch()
	}
	w.err = errClosed
	return err
}

// flush packs the block that waits.
func (w *Writer) flush() error {
	if len(w.block) == 0 {
		return nil
	}
	var err error
	switch {
	case w.left == 0:
		if err = w.endStretch(); err == nil {
			err = w.startStretch()
		}
	case w.search:
		_, err = w.repeats.Write(w.block)
	default:
		err = w.huffman()
	}
	w.left -= len(w.block)
	w.block = w.block[:0]
	return err
}

// startStretch chooses how a stretch is packed, by its first block, and packs
// that.
func (w *Writer) startStretch() error {
	w.begun = true
	w.trial = w.repeats.EncodeAll(w.block, w.trial[:0])
	alone := len(w.block)
	if packed, _, err := huff0.Compress4X(w.block, &w.scratch); err == nil {
		alone = len(packed)
	}
	w.search = float64(alone) > worthBytes*float64(len(w.trial))
	if w.search {
		w.left = repeatsBytes
		w.repeats.Reset(w.to)
		return w.write(w.trial)
	}
	w.left = huffmanBytes
	if err := w.write(frameHeader); err != nil {
		return err
	}
	return w.huffman()
}

// endStretch ends the stretch, if there was one.
func (w *Writer) endStretch() error {
	switch {
	case !w.begun:
		return nil
	case w.search:
		return w.repeats.Close()
	default:
		return w.write(blockHeader(blockRaw, 0, true))
	}
}
