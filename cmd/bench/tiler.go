package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"

	"strikerose/dataset/rig"
)

// tiler repeats a log with its time stamps carried on, so that the whole reads as
// one long recording: a repetition's first stamp comes one step after the last one
// of the repetition before, where a counter of microseconds wraps at 2^32, and a
// restart within the log starts the counter anew each time. All other bytes,
// damaged ones too, are repeated as they are.
type tiler struct {
	log    []byte
	pieces []piece
	stamps stamps
	stepBy int64 // between neighbours, the most common
	wraps  int64 // modulus of the counter; 0: it never wraps
	first  int   // byte of the first record: headers before it stand once
}

// piece is a stretch of the log with one record's stamp in it. Pieces follow each
// other without gaps.
type piece struct {
	to       int // its end; it starts where the one before ends
	at, past int // bytes of the stamp
	stamp    int64
	boots    bool // the counter starts anew here
	good     bool // the stamp fits its neighbours
}

// stamps finds and writes the stamps of a dialect.
type stamps interface {
	// next finds the first record at or after byte i: its stamp's place and value,
	// and where the record ends. ok is false where there is none.
	next(log []byte, i int) (p piece, ok bool)
	// write appends a piece whose stamp is another.
	write(dst, piece []byte, at, past int, stamp int64) []byte
	// modulus is where the counter wraps.
	modulus() int64
}

// newTiler prepares a log, plain, of a dialect. Frames need their layout.
func newTiler(log []byte, dialect string, layout *rig.FrameLayout) (*tiler, error) {
	t := &tiler{log: log}
	if dialect == "frames" {
		if layout == nil {
			return nil, fmt.Errorf("frames can be read only with the rig's [log.frame]: give --rig FILE")
		}
		f, err := newFrameStamps(*layout)
		if err != nil {
			return nil, err
		}
		t.stamps = f
	} else {
		if n := len(log); n > 0 && log[n-1] != '\n' {
			t.log = append(slices.Clip(log), '\n') // or the next repetition would go on in this line
		}
		s, err := newTextStamps(t.log, dialect)
		if err != nil {
			return nil, err
		}
		t.stamps = s
	}
	t.pieces = piecesOf(t.stamps, t.log)
	if len(t.pieces) < 2 {
		return nil, fmt.Errorf("holds no two records of dialect %s", dialect)
	}
	t.pieces[len(t.pieces)-1].to = len(t.log)
	t.stepBy = commonStep(t.pieces)
	t.wraps = t.stamps.modulus()
	if beyond(t.pieces, t.wraps) {
		t.wraps = 0
	}
	t.judge()
	t.first = t.firstRecord()
	return t, nil
}

// piecesOf cuts a log into pieces.
func piecesOf(s stamps, log []byte) []piece {
	var out []piece
	for i := 0; ; i = out[len(out)-1].to {
		p, ok := s.next(log, i)
		if !ok {
			return out
		}
		out = append(out, p)
	}
}

// beyond tells whether a counter goes on where another would wrap: most of its
// stamps lie there.
func beyond(pieces []piece, wraps int64) bool {
	n := 0
	for _, p := range pieces {
		if p.stamp >= wraps {
			n++
		}
	}
	return 2*n > len(pieces)
}

// firstRecord is where the first record's line or frame starts.
func (t *tiler) firstRecord() int {
	at := t.pieces[0].at
	if f, ok := t.stamps.(*frameStamps); ok {
		return at - f.field.Offset
	}
	return bytes.LastIndexByte(t.log[:at], '\n') + 1
}

// commonStep is the median of the steps between neighbours that rise.
func commonStep(pieces []piece) int64 {
	var steps []int64
	for i := 1; i < len(pieces); i++ {
		if d := pieces[i].stamp - pieces[i-1].stamp; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 1
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// Where a stamp goes on from the one before: by no more than mostSteps. What does
// not is a restart if the next ones go on from it, and damage else.
const (
	mostSteps = 5000
	lookAhead = 16
)

// judge tells restarts from damaged stamps.
func (t *tiler) judge() {
	last := t.pieces[0].stamp
	t.pieces[0].good = true
	for i := 1; i < len(t.pieces); i++ {
		p := &t.pieces[i]
		switch {
		case t.follows(last, p.stamp):
			p.good = true
		case t.startsAnew(i):
			p.good, p.boots = true, true
		default:
			continue
		}
		last = p.stamp
	}
}

// follows tells whether b can come after a.
func (t *tiler) follows(a, b int64) bool {
	d := t.wrapped(b - a)
	return d >= 0 && d <= mostSteps*t.stepBy
}

// wrapped is what the counter shows.
func (t *tiler) wrapped(stamp int64) int64 {
	if t.wraps == 0 {
		return stamp
	}
	if stamp %= t.wraps; stamp < 0 {
		stamp += t.wraps
	}
	return stamp
}

// startsAnew tells whether the records behind i go on from it.
func (t *tiler) startsAnew(i int) bool {
	ahead := t.pieces[i+1 : min(i+1+lookAhead, len(t.pieces))]
	n := 0
	for _, p := range ahead {
		if t.follows(t.pieces[i].stamp, p.stamp) {
			n++
		}
	}
	return 2*n > len(ahead)
}

// blockBytes is how much is written at a time.
const blockBytes = 1 << 20

// tiled is how much was written.
type tiled struct {
	Bytes       int64 `json:"bytes"`
	Records     int64 `json:"records"` // with a stamp, damaged ones too
	Repetitions int   `json:"repetitions"`
}

// write repeats the log until at least so many bytes or so many records are
// written, whichever is asked for (above 0), and stops at a record's end.
func (t *tiler) write(ctx context.Context, w io.Writer, mostBytes, mostRecords int64) (tiled, error) {
	var done tiled
	out := make([]byte, 0, blockBytes+1<<16)
	flush := func() error {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := w.Write(out)
		done.Bytes += int64(n)
		out = out[:0]
		return err
	}
	var last int64 // good stamp written, before it wraps
	for from := 0; ; from = t.first {
		offset := int64(0)
		if done.Repetitions > 0 {
			offset = last + t.stepBy - t.pieces[0].stamp
		}
		done.Repetitions++
		for i := range t.pieces {
			p := &t.pieces[i]
			if p.boots {
				offset = 0
			}
			stamp := p.stamp + offset
			if p.good {
				last = stamp
			}
			if offset != 0 {
				stamp = t.wrapped(stamp)
			}
			if stamp == p.stamp || stamp < 0 { // below 0 only where it is damaged
				out = append(out, t.log[from:p.to]...)
			} else {
				out = t.stamps.write(out, t.log[from:p.to], p.at-from, p.past-from, stamp)
			}
			from = p.to
			done.Records++
			if len(out) >= blockBytes {
				if err := flush(); err != nil {
					return done, err
				}
			}
			if mostRecords > 0 && done.Records >= mostRecords || mostBytes > 0 && done.Bytes+int64(len(out)) >= mostBytes {
				return done, flush()
			}
		}
	}
}
