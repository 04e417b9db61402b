package label

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// maxLine is the longest line that is read or written, in bytes.
const maxLine = 1 << 20

// Damage is a line of a journal that does not count.
type Damage struct {
	Line int    // from 1
	Byte int64  // offset of the line's first byte in the file
	Why  string // with a remedy where there is one
}

// Log is what a journal holds.
type Log struct {
	Name    string // of the file, for messages
	Claims  []Claim
	Torn    []Damage // lines cut short before they were acknowledged
	Damaged []Damage // any other line that does not count
}

// Err returns the journal's damage as one error, nil where there is none.
// Torn lines are no damage, since they were never acknowledged.
func (l Log) Err() error {
	var errs []error
	for _, d := range l.Damaged {
		errs = append(errs, fmt.Errorf("%s:%d: byte %d: %s", l.Name, d.Line, d.Byte, d.Why))
	}
	return errors.Join(errs...)
}

// Read reads a journal; name is used in messages. The error is one of reading
// alone: damage in the content is in the Log, and reading goes on behind it.
func Read(r io.Reader, name string) (Log, error) {
	log := Log{Name: name}
	seen := make(map[string]bool)
	br := bufio.NewReaderSize(r, 64<<10)
	bad := false // the line before did not count
	offset := int64(0)
	for number := 1; ; number++ {
		text, n, ended, err := nextLine(br)
		if err != nil {
			return log, fmt.Errorf("journal: %s:%d: %w", name, number, err)
		}
		if n == 0 {
			return log, nil
		}
		at := Damage{Line: number, Byte: offset}
		offset += n
		l, why := decode(text)
		switch {
		case why != "":
			at.Why = why
			if n > maxLine {
				at.Why = fmt.Sprintf("line of %d bytes, the most is %d", n, maxLine)
			}
			if !ended {
				log.Torn = append(log.Torn, at)
				return log, nil
			}
			log.Damaged = append(log.Damaged, at)
			bad = true
			continue
		case l == nil: // blank
		case l.Closes != "":
			if bad {
				last := len(log.Damaged) - 1
				log.Torn = append(log.Torn, log.Damaged[last])
				log.Damaged = log.Damaged[:last]
			}
		case !seen[l.ID]:
			seen[l.ID] = true
			log.Claims = append(log.Claims, l.Claim)
		}
		bad = false
	}
}

// nextLine returns the next line without its end, its length in bytes with
// it, and whether it has one. Of a line longer than maxLine only the start is
// returned.
func nextLine(br *bufio.Reader) (text []byte, n int64, ended bool, err error) {
	for {
		part, err := br.ReadSlice('\n')
		n += int64(len(part))
		if room := maxLine - len(text); room > 0 {
			text = append(text, part[:min(room, len(part))]...)
		}
		switch {
		case err == nil:
			return bytes.TrimRight(text, "\r\n"), n, true, nil
		case errors.Is(err, io.EOF):
			return text, n, false, nil
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, n, false, err
		}
	}
}

// decode reads one line; why says why it does not count. A blank line gives
// neither.
func decode(text []byte) (l *line, why string) {
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, ""
	}
	var head struct {
		V int `json:"v"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, fmt.Sprintf("not a claim (%v): restore the line from a copy, or delete it to give the claim up", err)
	}
	if head.V > version {
		return nil, fmt.Sprintf("line format %d is newer than %d, the newest known here: use the release that wrote it, or a later one", head.V, version)
	}
	if head.V < 1 {
		return nil, fmt.Sprintf("line format %d is unknown: restore the line from a copy", head.V)
	}
	l = new(line)
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(l); err != nil {
		return nil, fmt.Sprintf("not a claim (%v): restore the line from a copy, or delete it to give the claim up", err)
	}
	if l.Closes != "" {
		if l.Closes != "torn" {
			return nil, fmt.Sprintf("closes %q: only \"torn\" is known", l.Closes)
		}
		return l, ""
	}
	if id := l.ContentID(); id != l.ID {
		return nil, fmt.Sprintf("id %q does not fit the content (%s): the line was changed after it was written; append a claim that supersedes it instead", l.ID, id)
	}
	if err := l.Validate(); err != nil {
		return nil, err.Error()
	}
	return l, ""
}
