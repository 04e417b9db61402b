package main

import (
	"context"
	"errors"
	"io"
	"os"
)

// Blocks of a log on their way from the disk or the pipe to the decoder.
const (
	blockBytes     = 256 << 10
	blocksOnTheWay = 8
)

// block is some bytes of a log.
type block struct {
	bytes []byte
	err   error // io.EOF at the end
}

// onceRead is a log that is read once: a goroutine reads it, another gives what
// came to keep, and Read hands it on to be decoded. All three work at the same
// time. An interrupted reading is left to itself, since a read from a pipe may
// wait for ever.
type onceRead struct {
	ctx    context.Context
	cancel context.CancelCauseFunc
	keep   keeper
	kept   <-chan block  // what keep has seen
	free   chan<- []byte // blocks to fill again
	done   chan struct{} // keep is not called any more
	now    block
	left   []byte // of now
}

// keeper is given a log as it comes, and says the SHA-256 of all that it was given.
// At the log's end it settles what it keeps, while the last of it is decoded.
type keeper interface {
	io.Writer
	Settle() error
	SHA256() string
}

// readOnce starts to read a log: standard input, or the file at its path.
func readOnce(ctx context.Context, log logFile, stdin io.Reader, keep keeper) *onceRead {
	ctx, cancel := context.WithCancelCause(ctx)
	read, kept := make(chan block, blocksOnTheWay), make(chan block, blocksOnTheWay)
	free := make(chan []byte, 2*blocksOnTheWay+2)
	for range cap(free) {
		free <- nil
	}
	l := &onceRead{ctx: ctx, cancel: cancel, keep: keep, kept: kept, free: free, done: make(chan struct{})}
	go fill(ctx, log, stdin, free, read)
	go func() {
		defer close(l.done)
		for {
			select {
			case <-ctx.Done():
				return
			case b := <-read:
				if _, err := keep.Write(b.bytes); err != nil {
					cancel(err)
					return
				}
				select {
				case <-ctx.Done():
					return
				case kept <- b:
				}
				if b.err == io.EOF {
					if err := keep.Settle(); err != nil {
						cancel(err)
					}
				}
				if b.err != nil {
					return
				}
			}
		}
	}()
	return l
}

// fill reads a log block by block until its end, an error or an interrupt.
func fill(ctx context.Context, log logFile, stdin io.Reader, free <-chan []byte, read chan<- block) {
	in := stdin
	var failed error
	if log.path != "-" {
		f, err := os.Open(log.path)
		if err == nil {
			defer f.Close()
		}
		in, failed = f, err
	}
	for {
		var b block
		select {
		case <-ctx.Done():
			return
		case b.bytes = <-free:
		}
		if b.err = failed; b.err == nil {
			if b.bytes == nil {
				b.bytes = make([]byte, blockBytes)
			}
			var n int
			n, b.err = in.Read(b.bytes[:blockBytes])
			b.bytes = b.bytes[:n]
		}
		select {
		case <-ctx.Done():
			return
		case read <- b:
		}
		if b.err != nil {
			return
		}
	}
}

func (l *onceRead) Read(p []byte) (int, error) {
	for len(l.left) == 0 {
		if l.now.err != nil {
			return 0, l.now.err
		}
		if l.now.bytes != nil {
			l.free <- l.now.bytes[:0] // there is room for all blocks
		}
		select {
		case <-l.ctx.Done():
			return 0, context.Cause(l.ctx)
		case l.now = <-l.kept:
			l.left = l.now.bytes
		}
	}
	n := copy(p, l.left)
	l.left = l.left[n:]
	return n, nil
}

// SHA256 is that of the log, when Read came to its end.
func (l *onceRead) SHA256() string { return l.keep.SHA256() }

// close ends the reading; keep is not called any more when it returns.
func (l *onceRead) close() {
	l.cancel(errClosed)
	<-l.done
}

var errClosed = errors.New("the log is not read any more")
