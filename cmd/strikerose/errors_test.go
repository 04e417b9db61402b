package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
)

func TestPrintError(t *testing.T) {
	one, two := errors.New("one"), errors.New("two")
	for name, c := range map[string]struct {
		err  error
		want string
	}{
		"one":                        {one, "strikerose: one\n"},
		"joined":                     {errors.Join(one, two), "strikerose: one\nstrikerose: two\n"},
		"joined of joined":           {errors.Join(errors.Join(one, two), one), "strikerose: one\nstrikerose: two\nstrikerose: one\n"},
		"two in words":               {fmt.Errorf("%w, since %w", one, two), "strikerose: one, since two\n"},
		"two in words among joined":  {errors.Join(two, fmt.Errorf("%w, since %w", one, two)), "strikerose: two\nstrikerose: one, since two\n"},
		"joined in words":            {fmt.Errorf("both: %w", errors.Join(one, two)), "strikerose: both: one\n  two\n"},
		"interrupted before another": {errors.Join(context.Canceled, one), "strikerose: interrupted\n"},
	} {
		var out strings.Builder
		printError(&out, c.err)
		if out.String() != c.want {
			t.Errorf("%s: got %q, want %q", name, out.String(), c.want)
		}
	}
}
