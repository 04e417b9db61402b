package main

import (
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

// endings are how the name of an output may end, in the order in which people are
// told, and the format that each asks for.
type endings []struct{ ending, format string }

// of is the format that a file's name asks for by its ending, "" where that is
// none of these.
func (e endings) of(path string) string {
	for _, k := range e {
		if strings.EqualFold(filepath.Ext(path), k.ending) {
			return k.format
		}
	}
	return ""
}

// check refuses an output whose name ends otherwise: what would be written is not
// what the name says. - is standard output, whose format is the command's to know,
// and so is that of a name without an ending, unless one is needed. Or is a further
// remedy, "" for none.
func (e endings) check(cmd *cobra.Command, path string, needed bool, or string) error {
	if path == "-" || e.of(path) != "" || filepath.Ext(path) == "" && !needed {
		return nil
	}
	names := make([]string, len(e))
	for i, k := range e {
		names[i] = k.ending
	}
	last := len(names) - 1
	return usagef(cmd, "-o %s: the name tells no format: end it in %s or %s%s", path, strings.Join(names[:last], ", "), names[last], or)
}
