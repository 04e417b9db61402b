//go:build unix

package main

import (
	"math"
	"os"
	"runtime"
	"syscall"
	"time"
)

// peakBytes is the largest resident memory of a child that has ended.
func peakBytes(state *os.ProcessState) int64 {
	r, ok := state.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	if runtime.GOOS == "darwin" {
		return int64(r.Maxrss)
	}
	return int64(r.Maxrss) * 1024 // KiB elsewhere
}

// ownCPU is this process's user and system time in seconds.
func ownCPU() float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		return math.NaN()
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano()).Seconds()
}
