package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
)

// csvDecoder reads separated columns. The same decoder serves counts and
// units: the header tells them apart.
type csvDecoder struct {
	separator byte
	mark      byte   // decimal mark
	roles     []role // by column
	named     shape
	header    string // as it was written; "" where there is none
	foreign   string // a line of other words in its place; "" where there is none
	assumed   string // what the columns were taken for without a header
	names     *namer
	told      []string
}

func openUnitsCSV(h *head) (decoder, error) {
	d, err := openCSV(h)
	if err != nil {
		return nil, err
	}
	if u := d.named.units[ofAccel]; u == "" || u == "counts" {
		if h.options.Dialect == "" {
			return nil, errors.New("the header names no unit of acceleration")
		}
	}
	return d, nil
}

func openCountsCSV(h *head) (decoder, error) {
	d, err := openCSV(h)
	if err != nil {
		return nil, err
	}
	if u := d.named.units[ofAccel]; u != "" && u != "counts" && h.options.Dialect == "" {
		return nil, fmt.Errorf("the header names a unit of acceleration, %s", u)
	}
	return d, nil
}

// openCSV finds the header, or settles the columns without one.
func openCSV(h *head) (*csvDecoder, error) {
	var fault error
	for _, l := range h.lines {
		d := &csvDecoder{names: h.names}
		ok, err := d.readHeader(bytes.TrimLeft(l, "#/ "), h.options) // some boards write it as a comment
		if err != nil && fault == nil {
			fault = err
		}
		if ok {
			d.findMark(h)
			return d, nil
		}
	}
	if fault != nil {
		return nil, fault
	}
	for i, l := range h.lines {
		if d := bareCSV(l, h); d != nil {
			if i > 0 {
				d.takeForeign(h.lines[i-1])
			}
			d.told = append(d.told, d.assumed)
			return d, nil
		}
	}
	return nil, errors.New("no header line and no line of 4 or 7 numbers")
}

// bareCSV settles the columns of a log that has no header from a line of
// numbers.
func bareCSV(l []byte, h *head) *csvDecoder {
	d := &csvDecoder{names: h.names, separator: separatorOf(l, h.options)}
	if len(l) == 0 || l[0]-'0' > 9 && l[0] != '-' && l[0] != '+' {
		return nil
	}
	switch len(d.cells(l)) {
	case 4:
		d.roles = []role{0, 1, 2, 3}
	case 7:
		d.roles = []role{0, 1, 2, 3, 4, 5, 6}
		d.named.gyro = true
	default:
		return nil
	}
	d.findMark(h)
	d.assumed = "no header line: columns taken as t, ax, ay, az and, where there are seven, gx, gy, gz"
	return d
}

// takeForeign takes the line above the first numbers for a header where it has as
// many cells as those: its words are not understood, but it is no damage.
func (d *csvDecoder) takeForeign(l []byte) {
	if n := len(d.cells(l)); n == len(d.roles) {
		d.foreign = string(l)
		d.assumed = fmt.Sprintf("header %.80q is not understood: columns taken as t, ax, ay, az and, where there are seven, gx, gy, gz; if they are others, write these names there", l)
	}
}

// separatorOf picks the separator of a line: the option's, else the one of
// semicolon, tab and comma that is there, else spaces.
func separatorOf(l []byte, o Options) byte {
	if o.Separator != 0 && o.Separator < 128 {
		return byte(o.Separator)
	}
	for _, c := range []byte(";\t,") {
		if bytes.IndexByte(l, c) >= 0 {
			return c
		}
	}
	return ' '
}

// cells splits a line.
func (d *csvDecoder) cells(l []byte) []string {
	if d.separator == ' ' {
		return strings.Fields(string(l))
	}
	return strings.Split(string(l), string(d.separator))
}

// readHeader tries to understand a line as a header. It is one where it names
// the stamp and three accelerations; an error says what a near miss lacks.
func (d *csvDecoder) readHeader(l []byte, o Options) (bool, error) {
	if len(l) == 0 || len(l) > 4096 || l[0]-'0' <= 9 || l[0] == '-' || bytes.ContainsAny(l, ":={\x00") {
		return false, nil
	}
	d.separator = separatorOf(l, o)
	d.header = string(l)
	var seen [7]bool
	var extra []string
	for _, c := range d.cells(l) {
		f, ok := d.names.field(c)
		if !ok || f.role >= roleAccel || seen[f.role] {
			if name := strings.Trim(c, " \t\""); name != "" {
				extra = append(extra, name)
			}
			d.roles = append(d.roles, roleNone)
			continue
		}
		seen[f.role] = true
		d.roles = append(d.roles, f.role)
		if !d.named.note(f) {
			return false, &nearMiss{fmt.Sprintf("header %.80q gives two units for one quantity: make them the same", l)}
		}
	}
	accel := seen[1] && seen[2] && seen[3]
	if !seen[0] || !accel {
		if accel || seen[0] && (seen[1] || seen[2] || seen[3]) {
			fault := fmt.Sprintf("header %.80q lacks a time stamp or an axis: t, ax, ay and az are needed, with a unit if you like, as in t_us or ax_g", l)
			if len(extra) > 0 {
				fault += "; not understood: " + strings.Join(extra, ", ")
			}
			return false, &nearMiss{fault}
		}
		return false, nil
	}
	if gyro := seen[4] && seen[5] && seen[6]; !gyro && d.named.gyro {
		d.named.gyro = false
		for i, r := range d.roles {
			if r >= roleGX {
				d.roles[i] = roleNone
			}
		}
		d.told = append(d.told, "only some of gx, gy and gz are there: the log is read without a gyroscope")
	}
	if len(extra) > 0 {
		d.told = append(d.told, "columns not used: "+strings.Join(extra, ", "))
	}
	return true, nil
}

// findMark settles the decimal mark. A comma can be one only where it is not
// the separator, and is where more cells hold a comma than a point.
func (d *csvDecoder) findMark(h *head) {
	d.mark = '.'
	if o := h.options.DecimalComma; o != nil {
		if *o {
			d.mark = ','
		}
		return
	}
	if d.separator == ',' {
		return
	}
	commas, points := 0, 0
	for _, l := range h.lines {
		if len(l) > 0 && (l[0]-'0' <= 9 || l[0] == '-') {
			commas += bytes.Count(l, []byte{','})
			points += bytes.Count(l, []byte{'.'})
		}
	}
	if commas > points {
		d.mark = ','
	}
}

// firstFault says what is wrong with the first damaged line; "" where none is.
func (d *csvDecoder) firstFault(h *head) string {
	var x row
	for _, l := range h.lines {
		if v := classify(l, &x, d); v.what == isDamaged {
			return v.why + excerpt(l)
		}
	}
	return ""
}

func (d *csvDecoder) sample(h *head) int { return sampleLines(h, d) }
func (d *csvDecoder) shape() shape       { return d.named }
func (d *csvDecoder) notes() []string    { return d.told }

func (d *csvDecoder) decode(ctx context.Context, s *Source, r *recorder) error {
	return decodeLines(ctx, s, r, d)
}

// plain reads a line of numbers of at most 15 digits with nothing but separators
// between them, and as many as the header names.
func (d *csvDecoder) plain(b []byte, x *row) (n int) {
	if len(b) == 0 || b[0]-'0' > 9 && b[0] != '-' {
		return 0
	}
	i := 0
	x.has, x.decimals = 0, 0
	for column, r := range d.roles {
		if column > 0 {
			if i >= len(b) || b[i] != d.separator {
				return 0
			}
			i++
		}
		if r == roleNone {
			if d.separator == ' ' {
				return 0
			}
			for i < len(b) && b[i] != d.separator && b[i] != '\n' {
				i++
			}
			continue
		}
		negative := i < len(b) && b[i] == '-'
		if negative {
			i++
		}
		from := i
		var digits uint64
		for i < len(b) && b[i]-'0' <= 9 {
			digits = digits*10 + uint64(b[i]-'0')
			i++
		}
		n, decimals := i-from, 0
		if i < len(b) && b[i] == d.mark {
			i++
			for i < len(b) && b[i]-'0' <= 9 {
				digits = digits*10 + uint64(b[i]-'0')
				i++
				decimals++
			}
			n += decimals
		}
		if n == 0 || n > 15 {
			return 0
		}
		switch {
		case r > roleTime:
			v := float64(digits)
			if decimals > 0 {
				v /= powersOfTen[decimals]
			}
			if negative {
				v = -v
			}
			x.v[r-roleAX] = v
		case negative || decimals > 6:
			return 0
		case decimals > 0:
			one := wholePowers[decimals]
			x.whole, x.micro = int64(digits/one), int32(digits%one*wholePowers[6-decimals])
		default:
			x.whole, x.micro = int64(digits), 0
		}
		x.has |= 1 << r
		x.decimals |= uint32(decimals) << (4 * r)
	}
	return i
}

// wholePowers are the powers of ten up to a million.
var wholePowers = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6}

func (d *csvDecoder) line(text []byte, x *row) verdict {
	if c := text[0]; c-'0' > 9 && c != '-' && c != '+' && c != d.mark && c != '"' || string(text) == d.header {
		return d.words(text)
	}
	i := 0
	for column, r := range d.roles {
		if column > 0 {
			if i >= len(text) {
				return damaged("too few columns")
			}
			i++ // the separator
		}
		for i < len(text) && (text[i] == ' ' || text[i] == '\t' && d.separator != '\t') {
			i++
		}
		if r == roleNone {
			i = d.skip(text, i)
			continue
		}
		quoted := i < len(text) && text[i] == '"'
		if quoted {
			i++
		}
		n := 0
		if r == roleTime {
			whole, micro, decimals, k := parseStamp(text[i:], d.mark)
			x.setStamp(whole, micro, decimals)
			n = k
		} else {
			v, decimals, k := parseNumber(text[i:], d.mark)
			x.set(r.column(), v, decimals)
			n = k
		}
		if n == 0 {
			if i >= len(text) {
				return damaged("too few columns")
			}
			return damaged("not a number")
		}
		i += n
		if quoted && i < len(text) && text[i] == '"' {
			i++
		}
		if d.separator != ' ' {
			for i < len(text) && text[i] == ' ' {
				i++
			}
		}
		if i < len(text) && text[i] != d.separator {
			return damaged("not a number")
		}
	}
	for ; i < len(text); i++ {
		if text[i] != d.separator && text[i] != ' ' {
			return damaged("too many columns")
		}
	}
	return verdict{what: isSample}
}

// skip returns the end of the cell at i.
func (d *csvDecoder) skip(text []byte, i int) int {
	if n := bytes.IndexByte(text[i:], d.separator); n >= 0 {
		return i + n
	}
	return len(text)
}

// words judges a line that does not start like a number: the header again, a
// message, or damage.
func (d *csvDecoder) words(text []byte) verdict {
	if s := string(text); s == d.header || s == d.foreign {
		return verdict{what: isOther}
	}
	again := &csvDecoder{names: d.names}
	if ok, _ := again.readHeader(text, Options{}); ok {
		if d.header == "" || again.separator == d.separator && again.named == d.named {
			d.roles, d.header = again.roles, again.header // the same columns in another order, say after an update
			return verdict{what: isOther}
		}
		return damaged("a header that differs from the first")
	}
	if (text[0] == '*' || text[0] == '[' || text[0] == '<' || text[0] == '=' || text[0]|0x20 >= 'a' && text[0]|0x20 <= 'z') && chatter(text) && bytes.Count(text, []byte{d.separator}) != len(d.roles)-1 {
		return verdict{what: isOther}
	}
	return damaged("not a number")
}
