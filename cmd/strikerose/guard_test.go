package main

import (
	"errors"
	"fmt"
	"os"
	"testing"
)

// TestPipesAreNotLookedInto: an output that is a pipe holds nothing yet, so that
// reading from it would wait for ever.
func TestPipesAreNotLookedInto(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	path := fmt.Sprintf("/dev/fd/%d", w.Fd())
	if _, err := os.Stat(path); err != nil {
		t.Skipf("open files have no names here: %v", err)
	}
	if err := (&app{}).guard(path); err != nil {
		t.Error(err)
	}
	if err := errors.Join(r.Close(), w.Close()); err != nil {
		t.Error(err)
	}
}
