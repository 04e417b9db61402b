package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// errNoAnswer says that the person went away.
var errNoAnswer = errors.New("no answer: with --yes nothing is asked")

// asker puts questions to a person at a terminal.
type asker struct {
	in  *bufio.Reader
	out io.Writer
}

// asker returns nil where nobody can answer: standard input or standard error
// is no terminal, or --quiet or --json is given.
func (a *app) asker() *asker {
	if !a.asks || a.quiet || a.json {
		return nil
	}
	return &asker{bufio.NewReader(a.in), a.err}
}

// ask puts a question until check takes the answer; an empty one means usual.
// An interrupt ends it, though the read itself goes on waiting.
func (q *asker) ask(ctx context.Context, question, usual string, check func(answer string) error) error {
	for {
		fmt.Fprintf(q.out, "%s [%s]: ", question, usual)
		type line struct {
			text string
			err  error
		}
		read := make(chan line, 1)
		go func() {
			text, err := q.in.ReadString('\n')
			read <- line{text, err}
		}()
		var answer string
		select {
		case <-ctx.Done():
			fmt.Fprintln(q.out)
			return ctx.Err()
		case l := <-read:
			if l.err != nil && strings.TrimSpace(l.text) == "" {
				fmt.Fprintln(q.out)
				return errNoAnswer
			}
			answer = strings.TrimSpace(l.text)
		}
		if answer == "" {
			answer = usual
		}
		err := check(answer)
		if err == nil {
			return nil
		}
		fmt.Fprintf(q.out, "  %v\n", err)
	}
}

// yes asks for a yes or a no; an empty answer is yes.
func (q *asker) yes(ctx context.Context, question string) (yes bool, err error) {
	err = q.ask(ctx, question+" y or n", "y", func(answer string) error {
		switch strings.ToLower(answer) {
		case "y", "yes":
			yes = true
		case "n", "no":
			yes = false
		default:
			return fmt.Errorf("%q is neither y nor n", answer)
		}
		return nil
	})
	return yes, err
}
