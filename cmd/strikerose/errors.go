package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// usageError is a command line that cannot be understood: exit status 2.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

// usagef returns a usage error of a command, with a pointer to its help.
func usagef(cmd *cobra.Command, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	if cmd.HasParent() {
		err = fmt.Errorf("%s: %w", strings.TrimPrefix(cmd.CommandPath(), cmd.Root().Name()+" "), err)
	}
	return &usageError{withHint(err, "see %s --help", cmd.CommandPath())}
}

// hintError carries advice that is printed on a line of its own.
type hintError struct {
	err  error
	hint string
}

func (e *hintError) Error() string { return e.err.Error() }
func (e *hintError) Unwrap() error { return e.err }

// withHint adds advice to an error.
func withHint(err error, format string, args ...any) error {
	return &hintError{err, fmt.Sprintf(format, args...)}
}

// printError writes each joined error on its own line, and hints below.
func printError(w io.Writer, err error) {
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(w, "strikerose: interrupted")
		return
	}
	if several := joined(err); several != nil {
		for _, e := range several {
			printError(w, e)
		}
		return
	}
	text := strings.ReplaceAll(strings.TrimSpace(err.Error()), "\n", "\n  ")
	fmt.Fprintf(w, "strikerose: %s\n", text)
	var h *hintError
	if errors.As(err, &h) {
		fmt.Fprintf(w, "strikerose: hint: %s\n", h.hint)
	}
}

// joined lists what errors.Join put together. Of an error that wraps several with
// words of its own it lists nothing.
func joined(err error) []error {
	wraps, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return nil
	}
	var lines []string
	for _, e := range wraps.Unwrap() {
		lines = append(lines, e.Error())
	}
	if err.Error() != strings.Join(lines, "\n") {
		return nil
	}
	return wraps.Unwrap()
}

// need refuses a command line on which a flag is missing. (Cobra's own check
// knows nothing of exit statuses.)
func need(cmd *cobra.Command, flags ...string) error {
	for _, name := range flags {
		if !cmd.Flags().Changed(name) {
			f := cmd.Flags().Lookup(name)
			_, usage := pflag.UnquoteUsage(f)
			return usagef(cmd, "%s is missing: %s", asTyped(f), usage)
		}
	}
	return nil
}

// asTyped is a flag as people type it, by its letter where it has one.
func asTyped(f *pflag.Flag) string {
	if f.Shorthand != "" {
		return "-" + f.Shorthand
	}
	return "--" + f.Name
}

// takes returns a check of the number of arguments, from least to most (most
// below 0: any number). What is the word for one.
func takes(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return usagef(cmd, "%s is missing", what)
		case most >= 0 && len(args) > most:
			return usagef(cmd, "%q is one argument too many", args[most])
		}
		return nil
	}
}
