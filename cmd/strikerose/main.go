// Command strikerose turns the log of a sensor inside a hanging bag into the
// places where the bag was struck. Each file here holds one command: its
// flags, its words on the terminal and the wiring to the packages that do
// the work. Nothing is computed here.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"
)

// Exit statuses, the same for every command.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitInterrupted = 130
)

// patience is how long an interrupted command may take to end by itself: nothing
// interrupts the opening of a pipe that nobody writes to. No command leaves
// anything half written, wherever it ends.
const patience = 10 * time.Second

// world is all that a command takes from outside: its streams, its
// environment and its clock.
type world struct {
	in       io.Reader
	out, err io.Writer
	terminal bool // err is a terminal, where progress may be drawn
	asks     bool // so is in: questions are seen, and answered
	getenv   func(string) string
	now      func() time.Time
}

func main() { os.Exit(runHere(os.Stdout, os.Stderr)) }

// runHere runs this process's command line and returns its exit status. What it
// says goes to out and errs, which stand for the process's own streams.
func runHere(out, errs io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, func() {
		stop() // a second interrupt ends the program at once
		time.Sleep(patience)
		os.Exit(exitInterrupted)
	})
	terminal := term.IsTerminal(int(os.Stderr.Fd()))
	if terminal {
		errs = &breaker{to: errs}
	}
	return run(ctx, os.Args[1:], world{
		in: os.Stdin, out: out, err: errs,
		terminal: terminal,
		asks:     terminal && term.IsTerminal(int(os.Stdin.Fd())),
		getenv:   os.Getenv,
		now:      time.Now,
	})
}

// run executes one command line and returns its exit status.
func run(ctx context.Context, args []string, w world) int {
	w.out, w.err = forPeople(w.out), forPeople(w.err)
	root := newRoot(w)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		err = unsaid(w.out)
	}
	if err == nil {
		return exitDone
	}
	printError(w.err, err)
	var usage *usageError
	switch {
	case errors.As(err, &usage):
		return exitUsage
	case ctx.Err() != nil && errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	return exitFailed
}
