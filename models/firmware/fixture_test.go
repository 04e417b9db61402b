package firmware_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/testdata/recordings"
)

// parseHall reads the rig of the committed recordings, with or without its
// gyroscope.
func parseHall(gyro bool) (*rig.Rig, error) {
	data, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		return nil, err
	}
	r, err := rig.Parse(data, "hall.toml")
	if err == nil && !gyro {
		r.Sensor.GyroRangeDPS = 0
	}
	return r, err
}

func hall(t testing.TB, gyro bool) *rig.Rig {
	t.Helper()
	r, err := parseHall(gyro)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// strikes are the strikes of the committed recordings with their truth.
type strikes struct {
	rows     []features.Row
	examples []models.Example
}

// recorded reads the committed recordings once.
var recorded = sync.OnceValues(func() (map[bool]strikes, error) {
	out := map[bool]strikes{}
	for _, gyro := range []bool{true, false} {
		s, err := readRecordings(gyro)
		if err != nil {
			return nil, err
		}
		out[gyro] = s
	}
	return out, nil
})

func ofRecordings(t testing.TB, gyro bool) strikes {
	t.Helper()
	all, err := recorded()
	if err != nil {
		t.Fatal(err)
	}
	return all[gyro]
}

// readRecordings finds the strikes and gives each its truth. Every strike is
// found and nothing else, so the n-th strike is the n-th of the truth.
func readRecordings(gyro bool) (strikes, error) {
	var out strikes
	r, err := parseHall(gyro)
	if err != nil {
		return out, err
	}
	for _, c := range []struct{ name, log string }{{"monday", "monday.csv.zst"}, {"friday", "friday.bin.zst"}} {
		windows, err := windowsOf(c.log, gyro)
		if err != nil {
			return out, err
		}
		truth, err := recordings.Files.Open(c.name + "-truth.csv")
		if err != nil {
			return out, err
		}
		defer truth.Close()
		lines, err := csv.NewReader(truth).ReadAll()
		if err != nil {
			return out, err
		}
		if len(lines)-1 != len(windows) {
			return out, fmt.Errorf("%s: %d strikes found, %d in the truth", c.name, len(windows), len(lines)-1)
		}
		for i, w := range windows {
			e := models.Example{Session: c.name, Input: models.InputOf(w, r)}
			if e.BearingDeg, err = strconv.ParseFloat(lines[i+1][1], 64); err != nil {
				return out, err
			}
			if e.HeightM, err = strconv.ParseFloat(lines[i+1][2], 64); err != nil {
				return out, err
			}
			out.rows, out.examples = append(out.rows, e.Row), append(out.examples, e)
		}
	}
	return out, nil
}

// windowsOf reads a log and cuts the windows of its strikes.
func windowsOf(name string, gyro bool) ([]*dataset.Window, error) {
	r, err := parseHall(true)
	if err != nil {
		return nil, err
	}
	log, err := recordings.Files.ReadFile(name)
	if err != nil {
		return nil, err
	}
	read, err := intake.Read(context.Background(), bytes.NewReader(log), name, r, intake.Options{}, nil)
	if err != nil {
		return nil, err
	}
	if !gyro {
		read.Signal.G = [3][]float32{}
	}
	pre, post := features.Longest()
	return chain.Run(context.Background(), r, &read.Signal, chain.Options{PreMs: pre, PostMs: post})
}

// detector is one that can be exported, and how the tests come by it.
type detector struct {
	name, family string
	gyro         bool
	labels       func(all []models.Example) []models.Example
}

func every(all []models.Example) []models.Example { return all }
func none([]models.Example) []models.Example      { return nil }
func first(n int) func([]models.Example) []models.Example {
	return func(all []models.Example) []models.Example { return all[:n] }
}

// asAims states the uncertainty of a plan, whose labels teach no weights.
func asAims(all []models.Example) []models.Example {
	out := append([]models.Example(nil), all...)
	for i := range out {
		out[i].BearingSDDeg, out[i].HeightSDM = 8, 0.04
	}
	return out
}

func detectors() []detector {
	return []detector{
		{"arctangent without labels", "peak-arctangent", true, none},
		{"arctangent", "peak-arctangent", true, every},
		{"arctangent without gyroscope", "peak-arctangent", false, every},
		{"pendulum without labels", "pendulum", true, none},
		{"pendulum", "pendulum", true, every},
		{"ridge on aims", "complex-ridge", true, asAims},
		{"ridge on few", "complex-ridge", true, first(60)},
		{"ridge", "complex-ridge", true, every},
		{"ridge without gyroscope", "complex-ridge", false, every},
		{"trees", "cart", true, every},
		{"trees without gyroscope", "cart", false, every},
	}
}

func named(t testing.TB, name string) detector {
	t.Helper()
	for _, d := range detectors() {
		if d.name == name {
			return d
		}
	}
	t.Fatalf("no detector %q", name)
	return detector{}
}

// kept holds what was trained and exported, for the tests that look at the same.
var kept struct {
	trained  sync.Map // name and family to *models.File
	exported sync.Map // name to *firmware.Bundle
}

// trained fits a detector.
func trained(t testing.TB, d detector) *models.File {
	t.Helper()
	key := d.name + "/" + d.family
	if f, ok := kept.trained.Load(key); ok {
		return f.(*models.File)
	}
	family, ok := models.FamilyByName(d.family)
	if !ok {
		t.Fatalf("no family %s", d.family)
	}
	ex := d.labels(ofRecordings(t, d.gyro).examples)
	fitted, err := family.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	f := &models.File{Detector: fitted, Training: models.Training{Seed: 1, Sessions: []string{"friday", "monday"}, Truth: "timed", Examples: len(ex)}}
	kept.trained.Store(key, f)
	return f
}

// exported trains and exports a detector.
func exported(t testing.TB, d detector) *firmware.Bundle {
	t.Helper()
	if b, ok := kept.exported.Load(d.name); ok {
		return b.(*firmware.Bundle)
	}
	b, err := firmware.Export(trained(t, d), hall(t, d.gyro), ofRecordings(t, d.gyro).rows, firmware.Options{Tool: "strikerose test"})
	if err != nil {
		t.Fatal(err)
	}
	kept.exported.Store(d.name, b)
	return b
}

// tableOf reads the bundle's table.
func tableOf(t testing.TB, b *firmware.Bundle) *firmware.Table {
	t.Helper()
	for _, f := range b.Files {
		if f.Name == "table.json" {
			table, err := firmware.ParseTable(f.Data)
			if err != nil {
				t.Fatal(err)
			}
			return table
		}
	}
	t.Fatal("no table.json")
	return nil
}

// written writes a bundle into a new directory.
func written(t testing.TB, b *firmware.Bundle) string {
	t.Helper()
	dir := t.TempDir()
	for _, f := range b.Files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// strict is how the code must compile.
func strict(more ...string) []string {
	return append([]string{"-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-Wdouble-promotion", "-Wstrict-prototypes", "-Werror"}, more...)
}

// compiled compiles the check and returns its path.
func compiled(t testing.TB, dir string, flags ...string) string {
	t.Helper()
	cc := datasettest.RequireTool(t, "cc", "apt-get install gcc libc6-dev")
	out := filepath.Join(dir, "check")
	args := append(append([]string{}, flags...), "-o", out, filepath.Join(dir, "check.c"), filepath.Join(dir, "strikerose_model.c"), "-lm")
	if text, err := exec.Command(cc, args...).CombinedOutput(); err != nil {
		t.Fatalf("cc %s: %v\n%s", strings.Join(args, " "), err, text)
	}
	return out
}
