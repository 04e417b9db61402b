package intake

import (
	"context"
	"errors"
	"slices"
	"strings"
)

// consoleDecoder reads name:value pairs, as a serial console shows them.
type consoleDecoder struct {
	known map[string]field // keys met so far; extra ones with roleNone
	names *namer
	named shape
	learn bool // while the head is read: extra keys are noted instead of refused
	extra []string
}

func openConsole(h *head) (decoder, error) {
	d := &consoleDecoder{known: map[string]field{}, names: h.names, learn: true}
	counts := map[string]int{}
	samples := 0
	var x row
	for _, l := range h.lines {
		if classify(l, &x, d).what != isSample {
			continue
		}
		samples++
		for pair := range strings.FieldsSeq(string(l)) {
			if i := strings.IndexAny(pair, ":="); i > 0 {
				counts[pair[:i]]++
			}
		}
	}
	if samples == 0 {
		return nil, errors.New("no line such as t:1234 ax:-0.012 ay:0.034 az:1.001")
	}
	d.learn = false
	for key, f := range d.known {
		switch {
		case counts[key]*2 < samples: // met in a damaged line
			delete(d.known, key)
		case f.role == roleNone:
			d.extra = append(d.extra, key)
		case !d.named.note(f):
			return nil, &nearMiss{"two units are named for one quantity: make them the same"}
		}
	}
	slices.Sort(d.extra)
	return d, nil
}

func (d *consoleDecoder) sample(h *head) int { return sampleLines(h, d) }
func (d *consoleDecoder) shape() shape       { return d.named }

func (d *consoleDecoder) notes() []string {
	if len(d.extra) == 0 {
		return nil
	}
	return []string{"keys not used: " + strings.Join(d.extra, ", ")}
}

func (d *consoleDecoder) decode(ctx context.Context, s *Source, r *recorder) error {
	return decodeLines(ctx, s, r, d)
}

func (d *consoleDecoder) line(text []byte, x *row) verdict {
	pairs := false
	for i := 0; i < len(text); {
		for i < len(text) && (text[i] == ' ' || text[i] == '\t' || text[i] == ',' || text[i] == ';') {
			i++
		}
		start := i
		for i < len(text) && text[i] != ':' && text[i] != '=' && text[i] != ' ' {
			i++
		}
		if start == len(text) {
			break
		}
		if i >= len(text) || text[i] == ' ' {
			return d.rest(text, pairs)
		}
		f, ok := d.key(text[start:i])
		i++
		if !ok {
			return d.rest(text, pairs)
		}
		fresh, n := true, 0
		switch {
		case f.role == roleNone:
			for i+n < len(text) && text[i+n] != ' ' {
				n++
			}
			i += n
			continue
		case f.role == roleTime:
			whole, micro, decimals, k := parseStamp(text[i:], '.')
			fresh, n = x.setStamp(whole, micro, decimals), k
		default:
			v, decimals, k := parseNumber(text[i:], '.')
			fresh, n = x.set(f.role.column(), v, decimals), k
		}
		pairs = true
		i += n
		switch {
		case !fresh:
			return damaged("a key twice")
		case n == 0 || i < len(text) && text[i] != ' ' && text[i] != '\t' && text[i] != ',' && text[i] != ';':
			return damaged("not a number")
		}
	}
	switch {
	case x.has&hasAccel == hasAccel && (x.has&hasGyro == 0 || x.has&hasGyro == hasGyro):
		return verdict{what: isSample}
	case x.has == 0:
		return d.rest(text, pairs)
	}
	return damaged("keys missing")
}

// key understands a key, from memory where it was met before.
func (d *consoleDecoder) key(b []byte) (field, bool) {
	if f, ok := d.known[string(b)]; ok {
		return f, true
	}
	if len(b) == 0 || len(b) > 40 {
		return field{}, false
	}
	f, ok := d.names.field(string(b))
	if ok && f.role < roleAccel {
		if d.learn {
			d.known[string(b)] = f
		}
		// A unit that the first records did not name cannot be taken for theirs.
		return f, d.learn || f.unit == "" || f.unit == d.named.units[f.role.kind()]
	}
	if d.learn {
		f.role = roleNone
		d.known[string(b)] = f
		return f, true
	}
	return field{}, false
}

// rest judges a line that is no record: a message of the board, or what is
// left of a record.
func (d *consoleDecoder) rest(text []byte, pairs bool) verdict {
	if pairs || d.holdsKey(text) || !chatter(text) && !banner(text) {
		return damaged("broken line")
	}
	return verdict{what: isOther}
}

// holdsKey tells whether a piece of a record is in the line: one of the
// record's keys before a colon, or cut at the line's end.
func (d *consoleDecoder) holdsKey(text []byte) bool {
	for i, c := range text {
		if c != ':' {
			continue
		}
		from := i
		for from > 0 && text[from-1] != ' ' && i-from < 16 {
			from--
		}
		if f, ok := d.known[string(text[from:i])]; ok && f.role != roleNone {
			return true
		}
	}
	return false
}

// banner tells whether a line is a rule of punctuation, such as "*****".
func banner(text []byte) bool {
	for _, c := range text {
		if c != '*' && c != '=' && c != '-' && c != '_' && c != ' ' && c != '>' && c != '<' {
			return false
		}
	}
	return len(text) > 2
}
