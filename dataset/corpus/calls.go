package corpus

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// callsDir holds plans with the times at which each strike was called out.
const callsDir = "calls"

// PutCalls keeps a plan with the times of its calls, CSV text, as calls/NAME.csv
// and returns the path below the corpus. An earlier one of that name is
// replaced. Package label/plan writes and reads the text.
func (c *Corpus) PutCalls(name string, csv []byte) (rel string, err error) {
	if err := ValidName(name); err != nil {
		return "", fmt.Errorf("corpus: calls: %w", err)
	}
	release, err := c.lockCatalogue(context.Background())
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, release()) }()
	if err := removeTemps(c.path(callsDir)); err != nil {
		return "", err
	}
	rel = callsDir + "/" + name + ".csv"
	return rel, writeFile(c.path(rel), csv)
}

// isCalls tells the path of a plan with call times.
func isCalls(dir, base string) bool {
	return dir == callsDir && strings.HasSuffix(base, ".csv") && base[0] != '.'
}
