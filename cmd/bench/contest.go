package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// contest is one piece of work that ours and a peer do on the same data.
type contest struct {
	name    string
	samples int64 // that are worked on
	bytes   int64 // that are read
	peer    string
	about   string  // what the peer does of it and what it does not
	target  float64 // how many times the peer's speed is aimed at

	// ready brings the ground back to where both start; nil: nothing to do.
	ready  func() error
	ours   func(context.Context) (usage, error)
	theirs func(context.Context) (usage, error)
	// agree checks after a run of both that they did the same; nil: nothing to check.
	agree func() (string, error)
}

// outcome is what a contest gave.
type outcome struct {
	Name    string  `json:"name"`
	Samples int64   `json:"samples"`
	Bytes   int64   `json:"bytes"`
	Runs    int     `json:"runs"`
	Ours    usage   `json:"ours"` // medians
	Peer    string  `json:"peer"`
	Theirs  usage   `json:"theirs"`
	Ratio   float64 `json:"ratio"`     // of wall times: the peer's over ours
	CPU     float64 `json:"cpu_ratio"` // the same of user and system time
	Target  float64 `json:"target"`
	About   string  `json:"about"`
	Agreed  string  `json:"agreed,omitempty"`
}

// run lets ours and the peer take turns, each the first one every other time.
func (c *contest) run(ctx context.Context, runs int) (outcome, error) {
	o := outcome{Name: c.name, Samples: c.samples, Bytes: c.bytes, Runs: runs, Peer: c.peer, Target: c.target, About: c.about}
	var taken [2][]usage
	sides := [2]func(context.Context) (usage, error){c.ours, c.theirs}
	for i := range runs {
		if c.ready != nil {
			if err := c.ready(); err != nil {
				return o, fmt.Errorf("%s: %w", c.name, err)
			}
		}
		for k := range 2 {
			side := (i + k) % 2
			u, err := sides[side](ctx)
			if err != nil {
				return o, fmt.Errorf("%s: %s: %w", c.name, [2]string{"ours", c.peer}[side], err)
			}
			taken[side] = append(taken[side], u)
		}
		if c.agree != nil && i == 0 {
			said, err := c.agree()
			if err != nil {
				return o, fmt.Errorf("%s: ours and %s do not agree: %w", c.name, c.peer, err)
			}
			o.Agreed = said
		}
	}
	o.Ours, o.Theirs = medians(taken[0]), medians(taken[1])
	o.Ratio, o.CPU = o.Theirs.WallS/o.Ours.WallS, o.Theirs.CPUS/o.Ours.CPUS
	return o, nil
}

// medians takes each number's median.
func medians(us []usage) usage {
	of := func(number func(usage) float64) float64 {
		var v []float64
		for _, u := range us {
			v = append(v, number(u))
		}
		return median(v)
	}
	return usage{
		WallS:  of(func(u usage) float64 { return u.WallS }),
		CPUS:   of(func(u usage) float64 { return u.CPUS }),
		PeakMB: of(func(u usage) float64 { return u.PeakMB }),
	}
}

func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n == 0 {
		return 0
	}
	return (v[(n-1)/2] + v[n/2]) / 2
}

// printOutcomes writes a table of 80 columns and what each peer does.
func printOutcomes(w io.Writer, outcomes []outcome) {
	fmt.Fprintf(w, "%-17s  %-20s  %-20s  %s\n", "", "ours", "peer", "peer over ours")
	side := fmt.Sprintf("%5s %4s %5s %4s", "M/s", "MB/s", "CPU", "MB")
	fmt.Fprintf(w, "%-17s %s  %s  %5s %5s %4s\n", "work", side, side, "time", "CPU", "aim")
	for _, o := range outcomes {
		fmt.Fprintf(w, "%-17s %s  %s  %5s %5s %4.2g\n", o.Name, o.side(o.Ours), o.side(o.Theirs), short(o.Ratio), short(o.CPU), o.Target)
	}
	fmt.Fprintf(w, "\n%s\n", wrapped("M/s: million samples a second. CPU: user and system seconds. MB: peak resident. Each is a median.", 80))
	for _, o := range outcomes {
		said := o.About
		if o.Agreed != "" {
			said += " " + o.Agreed
		}
		fmt.Fprintf(w, "\n%s\n", wrapped(o.Name+", "+o.Peer+": "+said, 80))
	}
}

// side writes one side's numbers.
func (o outcome) side(u usage) string {
	return fmt.Sprintf("%5s %4s %5s %4.0f", short(float64(o.Samples)/u.WallS/1e6), short(float64(o.Bytes)/u.WallS/1e6), short(u.CPUS), u.PeakMB)
}

// short writes a number with three digits, no more than three behind the point.
func short(x float64) string {
	decimals := 3
	for size := 1.0; size <= x && decimals > 0; size *= 10 {
		decimals--
	}
	return strconv.FormatFloat(x, 'f', decimals, 64)
}

// wrapped breaks a text into lines.
func wrapped(text string, width int) string {
	var out strings.Builder
	column := 0
	for word := range strings.FieldsSeq(text) {
		switch {
		case column == 0:
		case column+1+len(word) > width:
			out.WriteByte('\n')
			column = 0
		default:
			out.WriteByte(' ')
			column++
		}
		out.WriteString(word)
		column += len(word)
	}
	return out.String()
}
