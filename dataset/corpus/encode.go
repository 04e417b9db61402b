package corpus

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"strikerose/dataset"
)

// rowGroupRows is the size of a row group: small enough that an engine can
// skip most of a long session by its time statistics, large enough that the
// footer stays small.
const rowGroupRows = 1 << 17

// metaPrefix starts every key that this package puts into a file's metadata.
const metaPrefix = "strikerose."

// Metadata keys that say whose table it is.
const (
	rigMeta     = "rig"
	sessionMeta = "session"
)

// encode writes columns of equal length as one sealed Parquet file of the
// session s. The data must stand in the table's order, without rig and session,
// which encode adds. The same input gives the same bytes.
func (t *table) encode(ctx context.Context, s *dataset.Session, data []any, meta ...keyValue) (sealed []byte, err error) {
	if len(data)+2 != len(t.columns) {
		panic(fmt.Sprintf("corpus: table %s has %d columns, data has %d", t.name, len(t.columns), len(data)+2))
	}
	rows := rowsOf(data[0])
	data = append([]any{repeated{s.Rig, rows}, repeated{s.Name, rows}}, data...)
	var out bytes.Buffer
	_, err = t.write(ctx, &out, data, slices.Concat(owner(s.Rig, s.Name), meta))
	return out.Bytes(), err
}

// owner is the metadata that says whose table it is.
func owner(rig, session string) []keyValue { return []keyValue{{rigMeta, rig}, {sessionMeta, session}} }
