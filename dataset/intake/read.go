package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Read reads one log, plain, gzip or zstd, to its end. The name appears in
// messages and, without its folder, in the session row. A nil Progress is
// allowed.
//
// Damage is repaired or counted in the session row; it is an error only past
// Options.MaxDamagedShare. Errors name the log, what is wrong and how to mend
// it. When ctx is done, its error is returned. The rig must be valid, as
// rig.Parse makes sure.
func Read(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress) (*Result, error) {
	return readAll(ctx, r, name, rg, o, p, usualChunks)
}

func readAll(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress, c chunking) (*Result, error) {
	var all dataset.Signal
	res, err := streamIn(ctx, r, name, rg, o, p, c, func(sig *dataset.Signal) error {
		all.TNs, all.TRaw, all.Segment = append(all.TNs, sig.TNs...), append(all.TRaw, sig.TRaw...), append(all.Segment, sig.Segment...)
		for k := range 3 {
			all.A[k], all.G[k] = append(all.A[k], sig.A[k]...), append(all.G[k], sig.G[k]...)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	res.Signal = all
	return res, nil
}

// Stream reads one log as Read does, and hands its samples on in order, chunk by
// chunk, in memory that does not grow with the log. The signal handed to sink is
// reused when sink returns. Times increase and segments count on over chunks.
// The result holds no signal. Whether the log is refused is known only when
// Stream returns: until then, nothing that sink was given is sure.
//
// The times are those that Read would give, within a small part of a sample. A
// log of some four minutes at 1000 Hz or less is one chunk; of longer ones, units
// and layout are settled by the first chunk, and what later contradicts it is
// counted as damaged.
//
// An error of sink ends the reading and is returned as it is. The log is decoded
// while sink runs: r is read by another goroutine, which has ended when Stream
// returns, so that a Read of r which waits for ever keeps Stream waiting.
func Stream(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress, sink func(*dataset.Signal) error) (*Result, error) {
	return streamIn(ctx, r, name, rg, o, p, usualChunks, sink)
}

func streamIn(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress, c chunking, sink func(*dataset.Signal) error) (*Result, error) {
	if rg == nil {
		panic("intake: no rig")
	}
	res, err := stream(ctx, r, rg, o, p, c, sink)
	var own *sinkError
	switch {
	case err == nil:
		res.Session.LogName = filepath.Base(name)
		return res, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.As(err, &own):
		return nil, own.error
	}
	return nil, fmt.Errorf("%s: %w", name, err)
}

// sinkError is an error of the caller's.
type sinkError struct{ error }

func stream(ctx context.Context, r io.Reader, rg *rig.Rig, o Options, p Progress, c chunking, sink func(*dataset.Signal) error) (*Result, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s, err := openSource(ctx, r, p)
	if err != nil {
		return nil, err
	}
	defer s.close()
	found := &recorder{rec: &Records{}}
	dialect, dec, err := prepare(s, found, rg, o)
	if err != nil {
		return nil, err
	}
	im := &importer{rig: rg, options: o, dialect: dialect, chunk: c, rec: &Records{}, res: &Result{}, sink: func(sig *dataset.Signal) error {
		if err := sink(sig); err != nil {
			return &sinkError{err}
		}
		return nil
	}}
	if d, ok := dec.(*frameDecoder); ok {
		im.modulus, im.strict = d.stampModulus(), d.layout.Checksum != "none"
	}
	if d, ok := dec.(*csvDecoder); ok {
		im.assumed = d.assumed
	}
	if err := decodeBeside(ctx, cancel, s, dec, found, c, im.take); err != nil {
		return nil, err
	}
	im.res.Notes = append(slices.Clone(dec.notes()), im.res.Notes...)
	sess := &im.res.Session
	if sess.LogSHA256, sess.LogBytes, err = s.finish(); err != nil {
		return nil, err
	}
	sess.Dialect, sess.Compression = dialect.Name, s.compression
	if s.cut != "" {
		kind, note := "compressed stream cut short", "what could be read before is kept; copy the log again if there is more"
		if s.torn {
			kind, note = "compressed stream damaged", "what could be read is kept, but readings behind the damage may be wrong without looking so: copy the log again"
		}
		found.note(kind, fmt.Sprintf("plain byte %d", s.at), ": "+s.cut)
		im.note(s.cut + ": " + note)
	}
	im.decoded = found.Account
	if err := im.end(); err != nil {
		return nil, err
	}
	return im.res, nil
}

// Batches of records go from the decoder to the importer; so many are on their
// way that one works on while the other does a chunk.
const (
	batchShare      = 16 // of a chunk
	batchesOnTheWay = 8
)

// batch is some records and what the log's names state so far.
type batch struct {
	*Records
	shape shape
}

// decodeBeside decodes a log in a goroutine of its own, which has ended when it
// returns, and gives the records to take in order.
func decodeBeside(ctx context.Context, cancel func(), s *Source, dec decoder, found *recorder, c chunking, take func(batch) error) error {
	filled := make(chan batch, batchesOnTheWay)
	empty := make(chan *Records, batchesOnTheWay)
	for range batchesOnTheWay {
		empty <- &Records{}
	}
	found.batch = max(1, c.records/batchShare)
	found.full = func(b *Records) (*Records, error) {
		select {
		case filled <- batch{b, dec.shape()}:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		select {
		case b = <-empty:
			return b, nil
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	var decodeErr error
	go func() {
		defer close(filled)
		if decodeErr = dec.decode(ctx, s, found); decodeErr == nil && found.rec.Len() > 0 {
			_, decodeErr = found.full(found.rec)
		}
	}()
	var err error
	for b := range filled {
		if err == nil {
			if err = take(b); err != nil {
				cancel()
			}
		}
		b.reset()
		select {
		case empty <- b.Records:
		default: // the decoder is done
		}
	}
	if err != nil {
		return err
	}
	return decodeErr
}

// prepare recognises the dialect by the log's first bytes. Where these are all
// of one endless line, it is counted as damaged and the bytes after it are
// looked at.
func prepare(s *Source, found *recorder, rg *rig.Rig, o Options) (Dialect, decoder, error) {
	const mostSkipped = 16
	for n := 0; ; n++ {
		b, whole := s.head()
		switch {
		case s.raw.err != nil:
			return Dialect{}, nil, s.raw.err
		case len(b) == 0 && s.cut != "":
			return Dialect{}, nil, errors.New(s.cut + " and nothing can be read: copy the log again")
		case len(b) == 0 && n > 0:
			return Dialect{}, nil, fmt.Errorf("%w: it is nothing but endless lines: copy the log again, or import another file", ErrUnknown)
		case len(b) == 0:
			return Dialect{}, nil, errors.New("the log is empty")
		}
		dialect, dec, err := recognise(newHead(b, whole, rg, o))
		if err == nil || whole || n == mostSkipped || bytes.IndexByte(b, '\n') >= 0 || hardlyText(b) {
			return dialect, dec, err
		}
		if err := s.nextLine(); err != nil {
			return Dialect{}, nil, err
		}
		found.Lines++
		found.damaged(tooLong, place(s.last.number, s.last.at), excerpt(s.last.text))
	}
}
