package corpus

import (
	"context"
	"os"
	"testing"
)

// readers opens bytes as each table, with the seal and behind it.
func readers() map[string]func(context.Context, []byte) error {
	parse := func(t *table) func(context.Context, []byte) error {
		return func(ctx context.Context, file []byte) error {
			_, err := t.parse(ctx, file)
			return err
		}
	}
	return map[string]func(context.Context, []byte) error{
		"samples behind the seal":  parse(samplesTable()),
		"sessions behind the seal": parse(sessionsTable()),
		"windows behind the seal":  parse(windowsTable()),
		"labels behind the seal":   parse(labelsTable()),
		"features behind the seal": func(ctx context.Context, file []byte) error {
			names, units, err := featuresOf(file)
			if err == nil {
				_, err = featuresTable(names, units).parse(ctx, file)
			}
			return err
		},
		"samples":  func(ctx context.Context, file []byte) error { _, err := decodeSamples(ctx, file); return err },
		"sessions": func(ctx context.Context, file []byte) error { _, _, err := decodeSession(ctx, file); return err },
		"windows":  func(ctx context.Context, file []byte) error { _, _, err := decodeStrikes(ctx, file); return err },
		"features": func(ctx context.Context, file []byte) error { _, _, err := decodeFeatures(ctx, file); return err },
		"labels":   func(ctx context.Context, file []byte) error { _, _, err := decodeLabels(ctx, file); return err },
	}
}

// FuzzRead: no bytes, read as any table, panic or are taken for a table of
// another kind.
func FuzzRead(f *testing.F) {
	c := newCorpus(f)
	addSession(f, c, "monday", testRig(f, "garage", true), 1200, 1)
	for _, table := range tables() {
		file, err := os.ReadFile(c.path(table + "/" + mondayPlace))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(file)
		f.Add(file[:len(file)/2])
		f.Add(append([]byte("PAR1"), file[len(file)/2:]...))
	}
	f.Add([]byte("PAR1\xff\xff\xff\xffPAR1"))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, file []byte) {
		accepted := 0
		for name, read := range readers() {
			if err := read(t.Context(), file); err == nil && len(name) <= len("sessions") {
				accepted++
			}
		}
		if accepted > 1 {
			t.Errorf("%d tables accept the same bytes", accepted)
		}
	})
}

// TestFlippedBehindTheSeal flips every byte of small files and reads them past
// the checksum: errors are welcome, panics are not.
func TestFlippedBehindTheSeal(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "monday", testRig(t, "garage", true), 40, 1)
	all := readers()
	for _, table := range tables() {
		file, err := os.ReadFile(c.path(table + "/" + mondayPlace))
		if err != nil {
			t.Fatal(err)
		}
		read := all[table+" behind the seal"]
		step := 1 + len(file)/400
		for at := 0; at < len(file); at += step {
			for _, bits := range []byte{0x01, 0x80, 0xff} {
				file[at] ^= bits
				_ = read(t.Context(), file)
				file[at] ^= bits
			}
		}
		if err := read(t.Context(), file); err != nil {
			t.Errorf("%s: whole again, yet %v", table, err)
		}
	}
}
