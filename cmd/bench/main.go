// Command bench shows how fast strikerose is and how much memory it takes, beside
// a peer that does the same work on the same data in the same run: DuckDB for
// tables, NumPy and SciPy for what has no table yet, scikit-learn for forests.
//
//	go run ./cmd/bench tools     installs the peers
//	go run ./cmd/bench peers     ours and theirs, as a table
//
// It is no part of the strikerose program, which it builds and runs as a user
// would. Each file holds one command or one part that several share.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// Exit statuses, those of strikerose.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitInterrupted = 130
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr, os.Getenv))
}

// run executes one command line and returns its exit status.
func run(ctx context.Context, args []string, out, errs io.Writer, getenv func(string) string) int {
	root := newRoot(&app{out: out, err: errs, getenv: getenv})
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	var usage *usageError
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil:
		fmt.Fprintln(errs, "bench: interrupted")
		return exitInterrupted
	case errors.As(err, &usage):
		fmt.Fprintf(errs, "bench: %v\n", err)
		return exitUsage
	}
	fmt.Fprintf(errs, "bench: %v\n", err)
	return exitFailed
}
