package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// usage is what a child process took, with those that it waited for.
type usage struct {
	WallS  float64 `json:"wall_s"`
	CPUS   float64 `json:"cpu_s"`   // user and system
	PeakMB float64 `json:"peak_mb"` // resident, 1e6 bytes; of the largest process
}

// command prepares a child that is interrupted with its context and killed if
// it does not end.
func command(ctx context.Context, program string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 10 * time.Second
	return cmd
}

// measure runs a child to its end. What it writes on standard error comes with
// the error if it fails; its standard output is returned unless cmd.Stdout is
// set.
//
// The system counts a child's memory from before it becomes another program, so
// that the peak of bench itself is the least that can be told: the commands here
// keep it small by streaming.
func measure(cmd *exec.Cmd) (usage, []byte, error) {
	var out, said bytes.Buffer
	if cmd.Stdout == nil {
		cmd.Stdout = &out
	}
	cmd.Stderr = &said
	start := time.Now()
	err := cmd.Run()
	wall := time.Since(start)
	if err != nil {
		return usage{}, nil, fmt.Errorf("%s: %w\n%s", filepath.Base(cmd.Path), err, strings.TrimSpace(said.String()))
	}
	state := cmd.ProcessState
	return usage{
		WallS:  wall.Seconds(),
		CPUS:   (state.UserTime() + state.SystemTime()).Seconds(),
		PeakMB: float64(peakBytes(state)) / 1e6,
	}, out.Bytes(), nil
}

// runChild is measure for a plain command line.
func runChild(ctx context.Context, program string, args ...string) (usage, error) {
	u, _, err := measure(command(ctx, program, args...))
	return u, err
}
