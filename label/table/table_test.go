package table

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	for name, text := range map[string]string{
		"plain":             "time,face\n1.5,2\n2.5,3\n",
		"no last newline":   "time,face\n1.5,2\n2.5,3",
		"byte order mark":   "\ufefftime,face\n1.5,2\n2.5,3\n",
		"CRLF":              "time,face\r\n1.5,2\r\n2.5,3\r\n",
		"semicolons":        "time;face\n1,5;2\n2,5;3\n",
		"tabs":              "time\tface\n1.5\t2\n2,5\t3\n",
		"bars and blanks":   " Time | FACE \n 1.5 | 2\n 2.5 | 3 \n",
		"quotes":            "\"time\",\"face\"\n\"1.5\",2\n2.5,\"3\"\n",
		"comments":          "# a note, with, commas\ntime,face\n# more\n1.5,2\n\n2.5,3\n,\n",
		"columns turned":    "note,face,time\nx,2,1.5\n,3,2.5\n",
		"surplus blanks":    "time,face\n1.5,2,,\n2.5,3,\n",
		"semicolons, quote": "\"time\";\"face\"\n1.5;2\n2.5;3\n",
	} {
		t.Run(name, func(t *testing.T) {
			tab, err := Read(strings.NewReader(text), "t.csv", "time", "face")
			if err != nil {
				t.Fatal(err)
			}
			if len(tab.Rows) != 2 {
				t.Fatalf("%d rows, want 2", len(tab.Rows))
			}
			for i, row := range tab.Rows {
				x, _ := tab.Float(row, tab.Column("time"))
				n, _ := tab.Int(row, tab.Column("face"))
				if x != 1.5+float64(i) || n != 2+i || tab.Err() != nil {
					t.Errorf("row %d: %g, %d, %v; want %g, %d", i, x, n, tab.Err(), 1.5+float64(i), 2+i)
				}
			}
			if tab.Column("mood") != -1 || tab.Rows[0].Cell(-1) != "" || tab.Rows[0].Cell(99) != "" {
				t.Error("what is not there is not empty")
			}
		})
	}
}

func TestReadRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":          {"", "t.csv: no header: the first line must be time,face"},
		"comments only":  {"# time,face\n", "no header"},
		"lacks a column": {"time,faces\n1,2\n", "t.csv:1:1: the header lacks face (it has time,faces)"},
		"no header":      {"1.5,2\n", "t.csv:1:1: the header lacks time, face"},
		"twice":          {"time,face,Time\n", `t.csv:1:11: the header names "time" twice`},
		"open quote":     {"time,face\n\"1,2\n", "t.csv:2:6: extraneous or missing"},
		"bare quote":     {"time,face\n1\"5,2\n", `t.csv:2:2: bare " in non-quoted-field`},
		"UTF-16":         {"\xff\xfet\x00i\x00", "UTF-16"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "t.csv", "time", "face")
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("Read = %v, want one with %q", err, c.want)
			}
		})
	}
}

// endless repeats a text for ever, as what a bomb unpacks to does.
type endless struct {
	text string
	read int // bytes
}

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e.text[(e.read+i)%len(e.text)]
	}
	e.read += len(p)
	return len(p), nil
}

// TestEndlessIsRefused: whatever has no end is left within the limits, with a
// word of where.
func TestEndlessIsRefused(t *testing.T) {
	for name, c := range map[string]struct{ head, more, want string }{
		"no line ends":    {"", "x", "t.csv: behind line 0: a row of more than 1 MB"},
		"columns":         {"time,face", ",c", "t.csv: behind line 0: a row of more than 1 MB"},
		"many columns":    {"time,face" + strings.Repeat(",c", maxColumns) + "\n", "1,2\n", "t.csv:1:1: a row of 1002 cells"},
		"open quote":      {"time,face\n1,\"", "2\n", "t.csv: behind line 1: a row of more than 1 MB"},
		"wide rows":       {"time,face\n", "1,2" + strings.Repeat(",", maxColumns-2) + "\n", "cells up to here"},
		"rows":            {"time,face\n", "1,2\n", "cells up to here"},
		"long rows":       {"time,face\n", "1," + strings.Repeat("2", 1000) + "\n", "more than 64 MB"},
		"comments":        {"time,face\n", "# x\n", "t.csv: behind line 1: a row of more than 1 MB"},
		"lines of blanks": {"time,face\n1,2\n", " ,\n", "cells up to here"},
	} {
		t.Run(name, func(t *testing.T) {
			more := &endless{text: c.more}
			_, err := Read(io.MultiReader(strings.NewReader(c.head), more), "t.csv", "time", "face")
			if err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, ErrTooLarge) == strings.Contains(name, "many columns") {
				t.Errorf("Read = %v, want one with %q", err, c.want)
			}
			if more.read > maxBytes+2*headBytes {
				t.Errorf("%d bytes were read", more.read)
			}
		})
	}
}

// TestFaultsHavePlaces: the place is where the mark stands in the text.
func TestFaultsHavePlaces(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"not a number":     {"time,face\n1,2\nsoon,3\n", `t.csv:3:1: time "soon" is not a number`},
		"decimal comma":    {"time,face\n\"1,5\",2\n", "t.csv:2:1: time \"1,5\" is not a number: write a decimal point"},
		"infinite":         {"time,face\n inf,2\n", `t.csv:2:1: time "inf" is not a number`},
		"NaN":              {"time,face\nNaN,2\n", `t.csv:2:1: time "NaN"`},
		"not whole":        {"time,face\n1,2.5\n", `t.csv:2:3: face "2.5" is not a whole number`},
		"missing":          {"time,face\n1\n", `t.csv:2:1: face "" is not a whole number`},
		"beyond":           {"time,face\n1,5,2\n", `t.csv:2:5: "2" lies beyond the header's 2 columns`},
		"after a long one": {"time,face\n\"1\n2\",3\n", `t.csv:2:1: time "1\n2"`},
	} {
		t.Run(name, func(t *testing.T) {
			tab, err := Read(strings.NewReader(c.text), "t.csv", "time", "face")
			if err != nil {
				t.Fatal(err)
			}
			for _, row := range tab.Rows {
				tab.Float(row, 0)
				tab.Int(row, 1)
			}
			if err := tab.Err(); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("Err = %v, want one with %q", err, c.want)
			}
		})
	}
}

func TestManyFaultsAreCounted(t *testing.T) {
	tab, err := Read(strings.NewReader("time,face\n"+strings.Repeat("x,1\n", 100)), "t.csv", "time", "face")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range tab.Rows {
		tab.Float(row, 0)
	}
	text := tab.Err().Error()
	if n := strings.Count(text, "is not a number"); n != maxFaults || !strings.Contains(text, "faults not listed: 80 more") {
		t.Errorf("%d faults listed, want %d and the rest counted:\n%s", n, maxFaults, text)
	}
}

func TestOneSession(t *testing.T) {
	for rows, want := range map[int]string{
		MaxStrikes:     "",
		MaxStrikes + 1: "t.csv: it lists 20001 strikes, more than the 20000 of one session: split it",
	} {
		tab, err := Read(strings.NewReader("time,face\n"+strings.Repeat("1,1\n", rows)), "t.csv", "time", "face")
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if err := tab.OneSession(); err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%d rows: %q, want %q", rows, got, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, seed := range []string{"time,face\n1,2\n", "\ufeff# x\ntime;face\n1,5;2\n\"", "time|face\n\x00|\xff\n", "time,face,\n,,,\n"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		tab, err := Read(strings.NewReader(text), "t.csv", "time", "face")
		if err != nil {
			return
		}
		for _, row := range tab.Rows {
			if x, ok := tab.Float(row, tab.Column("time")); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
				t.Errorf("Float gives %g", x)
			}
			tab.Int(row, tab.Column("face"))
			tab.Fault(row, -1, "no column")
			if row.Line() < 1 {
				t.Errorf("line %d", row.Line())
			}
		}
		tab.Err()
	})
}
