package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"strikerose/dataset/asjson"
)

// note tells what was done, on standard error, unless --quiet.
func (a *app) note(format string, args ...any) {
	if !a.quiet {
		fmt.Fprintf(a.err, format+"\n", args...)
	}
}

// warn says on standard error what the user must know, even with --quiet.
func (a *app) warn(format string, args ...any) {
	fmt.Fprintf(a.err, "strikerose: warning: "+format+"\n", args...)
}

// table prints rows below a heading on standard output, or value as JSON.
func (a *app) table(value any, heading []string, rows [][]string) error {
	if a.json {
		return printJSON(a.out, value)
	}
	return printTable(a.out, heading, rows)
}

// report is table for what a command did: --quiet leaves it out.
func (a *app) report(value any, heading []string, rows [][]string) error {
	if a.quiet && !a.json {
		return nil
	}
	return a.table(value, heading, rows)
}

// printJSON writes a value for programs.
func printJSON(w io.Writer, value any) error { return asjson.Write(w, value) }

// writeOutput hands write the file at path, or standard output for "-". The
// file appears when write is done: what fails or is interrupted leaves the
// old one.
func (a *app) writeOutput(path string, write func(io.Writer) error) error {
	if path != "-" {
		if err := a.guard(path); err != nil {
			return err
		}
	}
	return a.put(path, write)
}

// put is writeOutput for what may take the place of its own input.
func (a *app) put(path string, write func(io.Writer) error) error {
	if path == "-" {
		return mendable(write(a.data()))
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		if info.IsDir() {
			return fmt.Errorf("%s: is a directory: name a file", path)
		}
		f, err := os.OpenFile(path, os.O_WRONLY, 0) // a device or a pipe
		if err != nil {
			return mendable(err)
		}
		defer f.Close()
		return mendable(errors.Join(write(f), f.Close()))
	}
	return replaceFile(path, write)
}
