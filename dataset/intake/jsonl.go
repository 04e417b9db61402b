package intake

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"strings"
)

// jsonDecoder reads one JSON object a line. A scanner made for the usual
// shapes does nearly all lines; encoding/json does the rest.
type jsonDecoder struct {
	known map[string]*jsonKey
	names *namer
	fresh []*jsonKey // keys of this line that no record had before

	// The first record with a quantity settles its unit. Banners do not: they
	// may name ranges or times of their own.
	named   shape
	settled [3]bool // by quantity
	clash   bool    // a record names two units for one quantity
}

// jsonKey is a key understood, and whether a record had it.
type jsonKey struct {
	field
	met bool
}

func openJSON(h *head) (decoder, error) {
	d := &jsonDecoder{known: map[string]*jsonKey{}, names: h.names}
	if sampleLines(h, d) == 0 {
		if d.clash {
			return nil, &nearMiss{"two units are named for one quantity: make them the same"}
		}
		return nil, errors.New(`no line such as {"t":1234,"ax":1,"ay":2,"az":2048} or {"t":1234,"a":[1,2,2048]}`)
	}
	return d, nil
}

func (d *jsonDecoder) sample(h *head) int { return sampleLines(h, d) }
func (d *jsonDecoder) shape() shape       { return d.named }
func (d *jsonDecoder) notes() []string    { return nil }

func (d *jsonDecoder) decode(ctx context.Context, s *Source, r *recorder) error {
	return decodeLines(ctx, s, r, d)
}

// key understands a key, from memory where it was met before.
func (d *jsonDecoder) key(b []byte) field {
	k, ok := d.known[string(b)]
	if !ok {
		k = &jsonKey{}
		if k.field, ok = d.names.field(string(b)); !ok {
			k.role = roleNone
		}
		if len(d.known) < 64 { // a log has a handful; damaged ones need no memory
			d.known[string(b)] = k
		}
	}
	if !k.met && k.role != roleNone {
		d.fresh = append(d.fresh, k)
	}
	return k.field
}

// agree takes in the keys of a record that were not met before, and tells
// whether their units are those of the records so far.
func (d *jsonDecoder) agree() bool {
	named := d.named
	for _, k := range d.fresh {
		switch q := k.role.kind(); {
		case d.settled[q] && k.unit != "" && k.unit != d.named.units[q]:
			return false
		case !d.settled[q] && !named.note(k.field):
			d.clash = true
			return false
		}
	}
	d.named = named
	for _, k := range d.fresh {
		k.met = true
		d.settled[k.role.kind()] = true
	}
	return true
}

func (d *jsonDecoder) line(text []byte, x *row) verdict {
	d.fresh = d.fresh[:0]
	v := d.object(text, x)
	if v.what == isSample && len(d.fresh) > 0 && !d.agree() {
		return damaged("units unlike the other records'")
	}
	return v
}

// object reads a line without regard to units.
func (d *jsonDecoder) object(text []byte, x *row) verdict {
	if text[0] != '{' {
		if strings.Contains(string(text), `":`) || !chatter(text) && !banner(text) {
			return damaged("broken object")
		}
		return verdict{what: isOther}
	}
	switch d.scan(text, x) {
	case scanned:
		return complete(x)
	case twice:
		return damaged("a key twice")
	}
	*x = row{}
	return d.slow(text, x)
}

// complete judges an object by what it held.
func complete(x *row) verdict {
	switch {
	case x.has&hasAccel == hasAccel && (x.has&hasGyro == 0 || x.has&hasGyro == hasGyro):
		return verdict{what: isSample}
	case x.has&^1 == 0:
		return verdict{what: isOther} // a banner, perhaps with a time
	}
	return damaged("keys missing")
}

type scanResult int8

const (
	scanned scanResult = iota
	odd                // not of a usual shape: encoding/json decides
	twice
)

// scan reads an object of numbers and lists of three numbers.
func (d *jsonDecoder) scan(b []byte, x *row) scanResult {
	i := space(b, 1)
	for {
		if i >= len(b) || b[i] != '"' {
			return odd
		}
		i++
		start := i
		for i < len(b) && b[i] != '"' && b[i] != '\\' {
			i++
		}
		if i >= len(b) || b[i] == '\\' {
			return odd
		}
		f := d.key(b[start:i])
		i = space(b, i+1)
		if i >= len(b) || b[i] != ':' {
			return odd
		}
		i = space(b, i+1)
		var r scanResult
		if i, r = scanValue(b, i, f.role, x); r != scanned {
			return r
		}
		i = space(b, i)
		if i >= len(b) {
			return odd
		}
		if b[i] == '}' {
			if space(b, i+1) != len(b) {
				return odd
			}
			return scanned
		}
		if b[i] != ',' {
			return odd
		}
		i = space(b, i+1)
	}
}

// scanValue reads the value at i into the row and returns the place after it.
func scanValue(b []byte, i int, r role, x *row) (int, scanResult) {
	if i >= len(b) {
		return i, odd
	}
	if b[i] == '[' {
		if r < roleAccel {
			return i, odd
		}
		first := 0
		if r == roleGyro {
			first = 3
		}
		for k := range 3 {
			i = space(b, i+1) // after the bracket or the comma
			if !jsonNumber(b, i) {
				return i, odd
			}
			v, decimals, n := parseNumber(b[i:], '.')
			if n == 0 {
				return i, odd
			}
			if !x.set(first+k, v, decimals) {
				return i, twice
			}
			i = space(b, i+n)
			if i >= len(b) || k < 2 && b[i] != ',' || k == 2 && b[i] != ']' {
				return i, odd
			}
		}
		return i + 1, scanned
	}
	if r >= roleAccel || !jsonNumber(b, i) {
		return i, odd
	}
	n := 0
	fresh := true
	if r == roleTime {
		whole, micro, decimals, k := parseStamp(b[i:], '.')
		n = k
		fresh = k == 0 || x.setStamp(whole, micro, decimals)
	} else {
		v, decimals, k := parseNumber(b[i:], '.')
		n = k
		fresh = k == 0 || r == roleNone || x.set(r.column(), v, decimals)
	}
	switch {
	case n == 0:
		return i, odd
	case !fresh:
		return i, twice
	}
	return i + n, scanned
}

// jsonNumber tells whether a JSON number can start at i: a digit, or a minus
// sign and a digit, with no needless zero before it.
func jsonNumber(b []byte, i int) bool {
	if i < len(b) && b[i] == '-' {
		i++
	}
	if i >= len(b) || b[i]-'0' > 9 {
		return false
	}
	return b[i] != '0' || i+1 >= len(b) || b[i+1]-'0' > 9
}

func space(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t') {
		i++
	}
	return i
}

// slow decodes with encoding/json.
func (d *jsonDecoder) slow(text []byte, x *row) verdict {
	var object map[string]json.RawMessage
	if json.Unmarshal(text, &object) != nil {
		return damaged("broken object")
	}
	bad := false
	for _, key := range slices.Sorted(maps.Keys(object)) {
		raw, f := object[key], d.key([]byte(key))
		if f.role == roleNone {
			continue
		}
		fresh, ok := true, false
		switch f.role {
		case roleAccel, roleGyro:
			var v []json.Number
			if ok = json.Unmarshal(raw, &v) == nil && len(v) == 3; ok {
				for k, s := range v {
					value, decimals, n := parseNumber([]byte(s), '.')
					ok = ok && n == len(s) && n > 0
					fresh = fresh && x.set(k+3*int(f.role-roleAccel), value, decimals)
				}
			}
		case roleTime:
			whole, micro, decimals, n := parseStamp(raw, '.')
			ok = n == len(raw) && n > 0
			fresh = x.setStamp(whole, micro, decimals)
		default:
			value, decimals, n := parseNumber(raw, '.')
			ok = n == len(raw) && n > 0
			fresh = x.set(f.role.column(), value, decimals)
		}
		switch {
		case !ok:
			bad = true
		case !fresh:
			return damaged("a key twice")
		}
	}
	if bad && x.has != 0 { // a banner may use a name of ours for something else
		return damaged("not a number")
	}
	return complete(x)
}
