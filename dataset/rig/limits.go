package rig

import (
	"fmt"
	"io"
	"os"
)

// Limits of a rig file, so that a file from anywhere is refused in no time. One
// with every key and comment has some 5 KB.
const (
	maxFileBytes = 64 << 10
	maxFaults    = 20        // listed; of a file that is no rig file more helps nobody
	maxBands     = 64        // a bag of 5 m has room for as many hands above each other
	maxRevision  = 1_000_000 // a new one a minute for two years
	maxFrame     = 4096      // bytes of a packed frame; boards write a few dozen
)

// ReadFile reads the text of a rig file, which Parse takes. What is longer than
// any rig file, such as a device, is not read to its end.
func ReadFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("rig file: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return nil, fmt.Errorf("rig file: %w", err)
	}
	return data, nil
}
