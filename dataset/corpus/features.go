package corpus

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"regexp"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/shell"
)

// FeatureTable holds the feature values of a session's strikes: one row a
// strike, one column a feature. A value that could not be had is NaN, stored
// as null.
type FeatureTable struct {
	Names, Units []string // of the columns; lower case letters, digits and underscores
	OnsetNs      []int64
	Number       []int
	Rows         [][]float64
	Made         Made
}

// featuresTable has one row a strike and one column a feature.
func featuresTable(names, units []string) *table {
	t := &table{name: "features", frame: "bag", columns: append(identity(),
		column{name: "number", kind: kindInt64, doc: "of the strike in the session, from 1"},
		column{name: "onset_ns", kind: kindInt64, delta: true, unit: "ns", doc: "first instant of contact, repaired clock"},
	)}
	for i, name := range names {
		t.columns = append(t.columns, column{name: name, kind: kindFloat64, optional: true, unit: units[i], doc: "feature; null where it cannot be had"})
	}
	return t
}

const featureColumns = 4 // before the features themselves

// PutFeatures keeps the feature values of a session's strikes, which must be
// those that PutStrikes kept last.
func (c *Corpus) PutFeatures(ctx context.Context, session string, t FeatureTable) error {
	if err := t.check(); err != nil {
		return fmt.Errorf("corpus: session %s: features: %w", session, err)
	}
	return c.putDerived(ctx, session, featuresTable(nil, nil), func(s *dataset.Session) ([]byte, error) {
		windowsSHA, err := c.digestAt("windows", place{s.Rig, s.Name})
		if err != nil {
			return nil, err
		}
		if windowsSHA == "" {
			return nil, fmt.Errorf("%w: run strikerose find %s first", ErrNoWindows, shell.Line("-C", c.dir, "--sessions", session))
		}
		return t.encode(ctx, s, windowsSHA)
	})
}

func (t *FeatureTable) encode(ctx context.Context, s *dataset.Session, windowsSHA string) ([]byte, error) {
	n := len(t.Rows)
	number := make([]int64, n)
	for i := range number {
		number[i] = int64(t.Number[i])
	}
	data := []any{number, t.OnsetNs}
	for j := range t.Names {
		values := make([]float64, n)
		for i, row := range t.Rows {
			values[i] = row[j]
		}
		data = append(data, values)
	}
	return featuresTable(t.Names, t.Units).encode(ctx, s, data,
		keyValue{toolKey, t.Made.Tool}, keyValue{paramsKey, t.Made.Params}, keyValue{fromKey, windowsSHA})
}

// featureName is what a feature may be called; the other columns' names are
// taken.
var featureName = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

func (t *FeatureTable) check() error {
	if len(t.Names) != len(t.Units) {
		return fmt.Errorf("%d names and %d units", len(t.Names), len(t.Units))
	}
	if len(t.OnsetNs) != len(t.Rows) || len(t.Number) != len(t.Rows) {
		return fmt.Errorf("%d rows, %d onsets and %d numbers", len(t.Rows), len(t.OnsetNs), len(t.Number))
	}
	seen := []string{"rig", "session", "number", "onset_ns"}
	for _, name := range t.Names {
		if !featureName.MatchString(name) || slices.Contains(seen, name) {
			return fmt.Errorf("%q cannot be a column, or is one twice", name)
		}
		seen = append(seen, name)
	}
	for i, row := range t.Rows {
		if len(row) != len(t.Names) {
			return fmt.Errorf("row %d has %d values, want %d", i, len(row), len(t.Names))
		}
		for j, v := range row {
			if math.IsInf(v, 0) {
				return fmt.Errorf("row %d: %s is %v", i, t.Names[j], v)
			}
		}
	}
	return nil
}

// Features returns what PutFeatures kept. The error about a session without
// features holds ErrNoFeatures.
func (c *Corpus) Features(session string) (FeatureTable, error) {
	var t FeatureTable
	err := c.readDerived(session, "features", ErrNoFeatures, "features "+shell.Line("-C", c.dir, "--sessions", session), func(file []byte) (d *decoded, err error) {
		t, d, err = decodeFeatures(context.Background(), file)
		return d, err
	})
	if err != nil {
		return FeatureTable{}, err
	}
	return t, nil
}

// decodeFeatures finds out the features from the file's own schema.
func decodeFeatures(ctx context.Context, file []byte) (t FeatureTable, d *decoded, err error) {
	if _, err := verifySeal(file); err != nil {
		return t, nil, err
	}
	t.Names, t.Units, err = featuresOf(file)
	if err != nil {
		return t, nil, err
	}
	d, err = featuresTable(t.Names, t.Units).decode(ctx, file)
	if err != nil {
		return t, nil, err
	}
	t.Made = madeOf(d)
	t.OnsetNs = d.columns[featureColumns-1].([]int64)
	t.Number = make([]int, d.rows)
	for i, n := range d.columns[featureColumns-2].([]int64) {
		t.Number[i] = int(n)
	}
	t.Rows = make([][]float64, d.rows)
	for i := range t.Rows {
		t.Rows[i] = make([]float64, len(t.Names))
		for j := range t.Names {
			t.Rows[i][j] = d.columns[featureColumns+j].([]float64)[i]
		}
	}
	return t, d, t.check()
}

func featuresOf(file []byte) (names, units []string, err error) {
	f, err := openParquet(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return nil, nil, err
	}
	fields := f.schema.Fields()
	if len(fields) < featureColumns {
		return nil, nil, fmt.Errorf("has %d columns, want at least %d", len(fields), featureColumns)
	}
	for _, field := range fields[featureColumns:] {
		names = append(names, field.Name())
		units = append(units, f.meta["unit."+field.Name()])
	}
	return names, units, nil
}
