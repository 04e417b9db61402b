package firmware

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/features/chain/board"
	"strikerose/models"
)

// ParseTable reads a table.json.
func ParseTable(data []byte) (*Table, error) {
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("%s: no JSON: %w: export again", fileTable, err)
	}
	if head.Format != TableFormat {
		return nil, fmt.Errorf("%s: its format is %q, not %q: give a directory that export wrote", fileTable, head.Format, TableFormat)
	}
	if head.Version != TableVersion {
		return nil, fmt.Errorf("%s: version %d: this program reads %d: export again", fileTable, head.Version, TableVersion)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var t Table
	if err := d.Decode(&t); err != nil {
		return nil, fmt.Errorf("%s: damaged: %w: export again", fileTable, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: damaged: something follows it: export again", fileTable)
	}
	return &t, nil
}

// Check verifies an exported directory against the detector that it should hold:
// every number and every line of the code, and the golden streams by running them.
// read gives a file's content by name. What may be edited, the example and the
// words, is left alone. It errors with all that differs.
func Check(ctx context.Context, f *models.File, r *rig.Rig, read func(name string) ([]byte, error)) error {
	data, err := read(fileTable)
	if err != nil {
		return err
	}
	t, err := ParseTable(data)
	if err != nil {
		return err
	}
	v, err := NewDevice(f.Detector, r, t.Profile)
	if err != nil {
		return err
	}
	b, err := v.export(ctx, f.Training, Options{Tool: t.Tool, Profile: t.Profile})
	if err != nil {
		return err
	}
	var faults []error
	for _, want := range b.Files {
		switch want.Name {
		case fileExample, fileReadme:
			continue
		}
		got, err := read(want.Name)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		switch want.Name {
		case fileTable:
			if err := sameTable(t, want.Data); err != nil {
				faults = append(faults, err)
			}
		case fileVectors:
			if err := v.checkVectors(ctx, string(got)); err != nil {
				faults = append(faults, fmt.Errorf("%s: %w", want.Name, err))
			}
		default:
			if line := firstDifference(got, want.Data); line > 0 {
				faults = append(faults, fmt.Errorf("%s: line %d is not what this detector gives: export again", want.Name, line))
			}
		}
	}
	return errors.Join(faults...)
}

// sameTable compares a table with the one that the detector gives; how the golden
// streams came about does not count.
func sameTable(got *Table, data []byte) error {
	want, err := ParseTable(data)
	if err != nil {
		return err
	}
	a, b := *got, *want
	a.Vectors, b.Vectors = TableVectors{}, TableVectors{}
	have, err := a.encode()
	if err != nil {
		return err
	}
	should, err := b.encode()
	if err != nil {
		return err
	}
	if line := firstDifference(have, should); line > 0 {
		return fmt.Errorf("%s: line %d or near it is not what this detector gives: export again", fileTable, line)
	}
	return nil
}

// firstDifference is the number of the first line that differs, 0 for none.
func firstDifference(a, b []byte) int {
	if bytes.Equal(a, b) {
		return 0
	}
	x, y := bytes.Split(a, []byte("\n")), bytes.Split(b, []byte("\n"))
	for i := range min(len(x), len(y)) {
		if !bytes.Equal(x[i], y[i]) {
			return i + 1
		}
	}
	return min(len(x), len(y)) + 1
}

var (
	sampleLine = regexp.MustCompile(`(?m)^\t\{(\d+)u, \{(-?\d+), (-?\d+), (-?\d+)\}, \{(-?\d+), (-?\d+), (-?\d+)\}\},$`)
	eventLine  = regexp.MustCompile(`(?m)^\t\{\d+u, \d+u, .*\},$`)
)

// checkVectors runs the golden streams of a vectors.h again.
func (v *Device) checkVectors(ctx context.Context, text string) error {
	var samples []board.Sample
	for _, m := range sampleLine.FindAllStringSubmatch(text, -1) {
		t, err := strconv.ParseUint(m[1], 10, 32)
		if err != nil {
			return fmt.Errorf("sample %d: %w", len(samples)+1, err)
		}
		s := board.Sample{TUs: uint32(t)}
		for i, reading := range []*int16{&s.A[0], &s.A[1], &s.A[2], &s.G[0], &s.G[1], &s.G[2]} {
			n, err := strconv.ParseInt(m[2+i], 10, 16)
			if err != nil {
				return fmt.Errorf("sample %d: %w", len(samples)+1, err)
			}
			*reading = int16(n)
		}
		samples = append(samples, s)
	}
	events, err := v.Run(ctx, samples)
	if err != nil {
		return err
	}
	var want strings.Builder
	for _, e := range events {
		want.WriteString(eventText(e) + "\n")
	}
	have := strings.Join(eventLine.FindAllString(text, -1), "\n") + "\n"
	if have != want.String() {
		return errors.New("the golden events are not what this detector gives: export again")
	}
	return nil
}
