package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"strikerose/eval/report"
)

// columns is how wide a terminal has to be.
const columns = report.Width

// breaker passes text on to a terminal in lines of at most 80 columns. In a pipe
// there is none, so that a message stays on one line, to be searched for.
type breaker struct {
	to   io.Writer
	rest []byte // of a line that has not ended
}

// Write holds back a line until it ends. What draws, as a bar of progress does, or
// waits for an answer, goes on at once.
func (b *breaker) Write(p []byte) (int, error) {
	b.rest = append(b.rest, p...)
	for {
		end := bytes.IndexByte(b.rest, '\n')
		if end < 0 {
			break
		}
		line := string(b.rest[:end])
		b.rest = b.rest[end+1:]
		if !strings.ContainsAny(line, "\r\x1b") {
			line = strings.Join(broken(line, columns), "\n")
		}
		if _, err := io.WriteString(b.to, line+"\n"); err != nil {
			return 0, err
		}
	}
	if len(b.rest) > 0 {
		rest := b.rest
		b.rest = nil
		if _, err := b.to.Write(rest); err != nil {
			return 0, err
		}
	}
	return len(p), nil
}

// broken breaks a line at blanks into lines of at most so many columns. What
// follows the first is indented by two more than that. Blanks are kept, since a
// line may quote a log, and so is a word too long for a line, such as a path.
func broken(line string, width int) []string {
	indent := strings.Repeat(" ", len(line)-len(strings.TrimLeft(line, " "))+2)
	var out []string
	words := strings.Split(line, " ")
	part := words[0]
	for _, word := range words[1:] {
		if strings.TrimSpace(part) != "" && utf8.RuneCountInString(part)+1+utf8.RuneCountInString(word) > width {
			out = append(out, strings.TrimRight(part, " "))
			part = indent + word
			continue
		}
		part += " " + word
	}
	return append(out, part)
}

// printTable writes rows below a heading. Where a terminal has no room for the
// columns side by side, those that do not fit stand below their row, each under
// its head.
func printTable(w io.Writer, heading []string, rows [][]string) error {
	width := make([]int, len(heading))
	for _, row := range append([][]string{heading}, rows...) {
		for k, cell := range row {
			width[k] = max(width[k], utf8.RuneCountInString(cell))
		}
	}
	beside, total := 0, 0 // columns that stand side by side
	for beside < len(heading) && (beside == 0 || total+width[beside] <= columns) {
		total += width[beside] + 2
		beside++
	}
	var b strings.Builder
	line := func(row []string) {
		text := ""
		for k, cell := range row[:beside] {
			text += cell
			if k < beside-1 {
				text += strings.Repeat(" ", width[k]+2-utf8.RuneCountInString(cell))
			}
		}
		b.WriteString(text + "\n")
	}
	line(heading)
	for _, row := range rows {
		line(row)
		for k := beside; k < len(row); k++ {
			if row[k] != "" {
				for _, part := range broken("  "+heading[k]+": "+row[k], columns) {
					b.WriteString(part + "\n")
				}
			}
		}
	}
	_, err := fmt.Fprint(w, b.String())
	return err
}
