package intake

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"strikerose/dataset/rig"
)

// Dialect is one way in which boards write logs.
type Dialect struct {
	Name  string // as Options.Dialect takes it
	Looks string // what it looks like, for help texts

	accel, gyro, time string // units where neither the log nor the rig states them

	// open prepares a decoder from a log's first bytes. An error says why the
	// log cannot be of this dialect.
	open func(h *head) (decoder, error)
}

// Dialects lists all of them, in the order in which they are tried.
func Dialects() []Dialect {
	return []Dialect{
		{Name: "frames", Looks: "packed binary frames as [log.frame] of the rig file describes them, junk between them allowed", accel: "counts", gyro: "counts", time: "us", open: openFrames},
		{Name: "jsonl", Looks: `JSON Lines: {"t":1234,"a":[1,2,2048],"g":[0,0,1]} or {"t":1234,"ax":1,...}, banner objects between`, accel: "counts", gyro: "counts", time: "us", open: openJSON},
		{Name: "console", Looks: "console text: t:1234 ax:-0.012 ay:0.034 az:1.001 gx:0.1 gy:0.2 gz:0.3, boot banners between", accel: "g", gyro: "dps", time: "ms", open: openConsole},
		{Name: "units-csv", Looks: "columns with units in the header: time_ms,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps", accel: "g", gyro: "dps", time: "ms", open: openUnitsCSV},
		{Name: "counts-csv", Looks: "columns of counts: t_us,ax,ay,az,gx,gy,gz", accel: "counts", gyro: "counts", time: "us", open: openCountsCSV},
	}
}

// DialectNames joins the names of all dialects for messages.
func DialectNames() string {
	var names []string
	for _, d := range Dialects() {
		names = append(names, d.Name)
	}
	return strings.Join(names, ", ")
}

// head is what a decoder is prepared from: the first plain bytes of a log.
type head struct {
	bytes   []byte
	lines   [][]byte // its complete lines
	rig     *rig.Rig
	options Options
	names   *namer
}

func newHead(b []byte, whole bool, rg *rig.Rig, o Options) *head {
	h := &head{bytes: b, rig: rg, options: o, names: newNamer()}
	start := 0
	for i, c := range b {
		if c == '\n' {
			h.lines = append(h.lines, trimEnd(b[start:i]))
			start = i + 1
		}
	}
	if whole && start < len(b) {
		h.lines = append(h.lines, trimEnd(b[start:]))
	}
	return h
}

// decoder reads the records of one log.
type decoder interface {
	// sample tells how many good records the log's first bytes hold.
	sample(h *head) int
	decode(ctx context.Context, s *Source, r *recorder) error
	// shape says what the log's names state.
	shape() shape
	// notes are what the user should know of the log's layout.
	notes() []string
}

// recognise prepares the decoder that finds most records in the head, or the
// one that the options name.
func recognise(h *head) (Dialect, decoder, error) {
	var best Dialect
	var bestDecoder decoder
	most := 0
	var why []string
	var miss *nearMiss
	var headed *csvDecoder
	for _, d := range Dialects() {
		if h.options.Dialect != "" && d.Name != h.options.Dialect {
			continue
		}
		dec, err := d.open(h)
		if err != nil {
			why = append(why, fmt.Sprintf("%s: %v", d.Name, err))
			if miss == nil {
				errors.As(err, &miss)
			}
			continue
		}
		n := dec.sample(h)
		if d, csv := dec.(*csvDecoder); csv {
			headed = d
		}
		if n > most || h.options.Dialect != "" {
			best, bestDecoder, most = d, dec, n
		}
	}
	if bestDecoder != nil {
		return best, bestDecoder, nil
	}
	if h.options.Dialect != "" {
		if len(why) == 0 {
			return best, nil, fmt.Errorf("dialect %q is not known: use one of %s", h.options.Dialect, DialectNames())
		}
		return best, nil, fmt.Errorf("cannot be read as %s", why[0])
	}
	if miss != nil {
		return best, nil, miss
	}
	if hardlyText(h.bytes) {
		return best, nil, fmt.Errorf("looks binary and %w, nor frames that the rig's [log.frame] describes: describe the board's frames there (magic, fields, checksum)", ErrUnknown)
	}
	if headed != nil {
		if why := headed.firstFault(h); why != "" {
			return best, nil, fmt.Errorf("%w below its header line: %s: write stamps as numbers of us, ms or s, or state --separator or --dialect", ErrUnknown, why)
		}
		return best, nil, fmt.Errorf("%w below its header line: copy the log again, or state --separator or --dialect", ErrUnknown)
	}
	text, like := "", "give the columns a header line such as t_us,ax,ay,az,gx,gy,gz"
	for _, l := range h.lines {
		if len(l) > 0 {
			text = "; it starts with " + excerpt(l)[2:]
			if l[0] == '{' {
				like = `write objects such as {"t":1234,"a":[1,2,2048],"g":[0,0,1]}`
			}
			break
		}
	}
	return best, nil, fmt.Errorf("%w (%s)%s: %s, or state --dialect", ErrUnknown, DialectNames(), text, like)
}

// ErrUnknown is in the error of a file that is no log of a known dialect.
var ErrUnknown = errors.New("holds no records of a known dialect")

// nearMiss says why a log that is of a dialect by its looks cannot be read.
type nearMiss struct{ text string }

func (e *nearMiss) Error() string { return e.text }

// hardlyText tells whether bytes are binary rather than text.
func hardlyText(b []byte) bool {
	odd := 0
	for _, c := range b {
		if c < 9 || c > 13 && c < 32 {
			odd++
		}
	}
	return odd*20 > len(b)
}
