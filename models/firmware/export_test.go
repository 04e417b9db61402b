package firmware_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/models"
	"strikerose/models/firmware"
)

// files exports a rule and returns its files by name.
func files(t testing.TB, name, profile string) (map[string][]byte, *models.File) {
	t.Helper()
	f := &models.File{Detector: rule(t, name)}
	b, err := firmware.Export(t.Context(), f, datasettest.Rig(t), firmware.Options{Profile: profile, Tool: "a test"})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, x := range b.Files {
		out[x.Name] = x.Data
	}
	return out, f
}

// What is exported is held: the numbers, the interface and the golden events of
// the smallest detector, and the numbers of one with height.
func TestGolden(t *testing.T) {
	small, _ := files(t, "peak-arctangent", firmware.Fixed)
	for _, name := range []string{"strikerose.h", "strikerose.c", "strikerose_table.h", "table.json", "README.txt"} {
		datasettest.Golden(t, "peak-arctangent/"+name, small[name])
	}
	for _, profile := range []string{firmware.Fixed, firmware.Float32} {
		tall, _ := files(t, "pendulum", profile)
		datasettest.Golden(t, "pendulum/"+profile+"/strikerose_table.h", tall["strikerose_table.h"])
		_, events, _ := strings.Cut(string(tall["vectors.h"]), "// What must come out.")
		datasettest.Golden(t, "pendulum/"+profile+"/events.txt", []byte(events))
	}
}

func TestSameInputSameBytes(t *testing.T) {
	a, _ := files(t, "pendulum", firmware.Fixed)
	b, _ := files(t, "pendulum", firmware.Fixed)
	for name := range a {
		if !bytes.Equal(a[name], b[name]) {
			t.Errorf("%s differs", name)
		}
	}
}

// A directory is verified against its detector; a changed number, line, event or
// version is found.
func TestCheck(t *testing.T) {
	whole, f := files(t, "pendulum", firmware.Fixed)
	check := func(change map[string][]byte) error {
		return firmware.Check(t.Context(), f, datasettest.Rig(t), func(name string) ([]byte, error) {
			if data, ok := change[name]; ok {
				if data == nil {
					return nil, fmt.Errorf("%s is not there", name)
				}
				return data, nil
			}
			return whole[name], nil
		})
	}
	if err := check(nil); err != nil {
		t.Fatal(err)
	}
	if err := check(map[string][]byte{"example.c": []byte("int main(void);"), "README.txt": {}}); err != nil {
		t.Errorf("what may be edited: %v", err)
	}
	for name, c := range map[string]struct{ file, from, to, want string }{
		"number":  {"strikerose_table.h", ".faces = 6", ".faces = 7", "strikerose_table.h: line"},
		"code":    {"strikerose.c", "return", "return  ", "strikerose.c: line"},
		"entry":   {"table.json", `"fraction_bits": 4`, `"fraction_bits": 5`, "table.json: line"},
		"version": {"table.json", `"version": 2`, `"version": 9`, "version 9"},
		"format":  {"table.json", "strikerose board table", "another", "its format"},
		"unknown": {"table.json", `"detector"`, `"detektor"`, "damaged"},
		"event":   {"vectors.h", "VECTOR_EVENTS] = {\n\t{", "VECTOR_EVENTS] = {\n\t{1", "vectors.h: the golden events"},
		"missing": {"replay.c", "", "", "replay.c is not there"},
		"reading": {"vectors.h", "VECTOR_SAMPLES] = {\n\t{", "VECTOR_SAMPLES] = {\n\t{0u, {65536, 0, 0}, {0, 0, 0}},\n\t{", "vectors.h: sample 1: "},
		"time":    {"vectors.h", "VECTOR_SAMPLES] = {\n\t{", "VECTOR_SAMPLES] = {\n\t{99999999999u, {0, 0, 0}, {0, 0, 0}},\n\t{", "vectors.h: sample 1: "},
	} {
		t.Run(name, func(t *testing.T) {
			change := map[string][]byte{c.file: nil}
			if c.from != "" {
				text := string(whole[c.file])
				if !strings.Contains(text, c.from) {
					t.Fatalf("%s holds no %q", c.file, c.from)
				}
				change[c.file] = []byte(strings.Replace(text, c.from, c.to, 1))
			}
			if err := check(change); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want a word of %q", err, c.want)
			}
		})
	}
	other := &models.File{Detector: rule(t, "peak-arctangent")}
	if err := firmware.Check(t.Context(), other, datasettest.Rig(t), func(name string) ([]byte, error) { return whole[name], nil }); err == nil {
		t.Error("another detector passes")
	}
}

// FuzzParseTable: no text panics, and what is taken says the same once written.
func FuzzParseTable(f *testing.F) {
	whole, _ := files(f, "pendulum", firmware.Fixed)
	table := whole["table.json"]
	f.Add(table)
	f.Add(table[:len(table)/2])
	f.Add(append(bytes.Clone(table), "{}"...))
	f.Add(bytes.Replace(table, []byte(`"numbers": [`), []byte(`"numbers": [{},null,`), 1))
	f.Add([]byte(`{"format":"strikerose board table","version":2,"bytes":1e999}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		a, err := firmware.ParseTable(data)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "table.json: ") {
				t.Errorf("an error without a place: %v", err)
			}
			return
		}
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		b, err := firmware.ParseTable(text)
		if err != nil {
			t.Fatalf("written again: %v", err)
		}
		if again, err := json.Marshal(b); err != nil || !bytes.Equal(text, again) {
			t.Errorf("%s (%v) is read as %s", text, err, again)
		}
	})
}
