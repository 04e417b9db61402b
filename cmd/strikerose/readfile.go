package main

import (
	"fmt"
	"io"
	"os"
)

// readAtMost reads a file that is taken into memory whole. What is longer, such as
// a device, is refused without reading on.
func readAtMost(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, err
	}
	if int64(len(data)) > most {
		return nil, fmt.Errorf("%s: is longer than %d bytes: is it the right file?", path, most)
	}
	return data, nil
}
