package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

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
	res, err := read(ctx, r, name, rg, o, p)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return res, nil
}

func read(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress) (*Result, error) {
	if rg == nil {
		panic("intake: no rig")
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	s, err := openSource(ctx, r, p)
	if err != nil {
		return nil, err
	}
	defer s.close()
	rec := &Records{}
	dialect, dec, err := prepare(s, rec, rg, o)
	if err != nil {
		return nil, err
	}
	if err := dec.decode(ctx, s, rec); err != nil {
		return nil, err
	}
	im := &importer{rig: rg, options: o, dialect: dialect, shape: dec.shape(), rec: rec, res: &Result{Notes: dec.notes()}}
	if d, ok := dec.(*frameDecoder); ok {
		im.modulus, im.strict = d.stampModulus(), d.layout.Checksum != "none"
	}
	sess := &im.res.Session
	if sess.LogSHA256, sess.LogBytes, err = s.finish(); err != nil {
		return nil, err
	}
	sess.LogName, sess.Dialect, sess.Compression = filepath.Base(name), dialect.Name, s.compression
	if s.cut != "" {
		kind, note := "compressed stream cut short", "what could be read before is kept; copy the log again if there is more"
		if s.torn {
			kind, note = "compressed stream damaged", "what could be read is kept, but readings behind the damage may be wrong without looking so: copy the log again"
		}
		rec.Account.note(kind, fmt.Sprintf("plain byte %d", s.at), ": "+s.cut)
		im.res.Notes = append(im.res.Notes, s.cut+": "+note)
	}
	if err := im.run(); err != nil {
		return nil, err
	}
	return im.res, nil
}

// prepare recognises the dialect by the log's first bytes. Where these are all
// of one endless line, it is counted as damaged and the bytes after it are
// looked at.
func prepare(s *Source, rec *Records, rg *rig.Rig, o Options) (Dialect, decoder, error) {
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
		rec.Account.Lines++
		rec.Account.damaged(tooLong, place(s.last.number, s.last.at), excerpt(s.last.text))
	}
}
