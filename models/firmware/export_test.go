package firmware_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/testdata/recordings"
)

// hall is the rig of the committed recordings, with or without its gyroscope.
func hall(t testing.TB, gyro bool) *rig.Rig {
	t.Helper()
	data, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := rig.Parse(data, "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	if !gyro {
		r.Sensor.GyroRangeDPS = 0
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
	data, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		return out, err
	}
	r, err := rig.Parse(data, "hall.toml")
	if err != nil {
		return out, err
	}
	for _, c := range []struct{ name, log string }{{"monday", "monday.csv.zst"}, {"friday", "friday.bin.zst"}} {
		log, err := recordings.Files.ReadFile(c.log)
		if err != nil {
			return out, err
		}
		read, err := intake.Read(context.Background(), bytes.NewReader(log), c.log, r, intake.Options{}, nil)
		if err != nil {
			return out, err
		}
		if !gyro {
			read.Signal.G = [3][]float32{}
		}
		pre, post := features.Longest()
		windows, err := chain.Run(context.Background(), r, &read.Signal, chain.Options{PreMs: pre, PostMs: post})
		if err != nil {
			return out, err
		}
		truth, err := recordings.Files.Open(c.name + "-truth.csv")
		if err != nil {
			return out, err
		}
		lines, err := csv.NewReader(truth).ReadAll()
		if err != nil {
			return out, err
		}
		if len(lines)-1 != len(windows) {
			return out, fmt.Errorf("%s: %d strikes found, %d in the truth", c.name, len(windows), len(lines)-1)
		}
		own := *r
		if !gyro {
			own.Sensor.GyroRangeDPS = 0
		}
		for i, w := range windows {
			e := models.Example{Session: c.name, Input: models.Input{Row: features.Extract(w, &own, nil), Rig: &own}}
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
		{"ridge on aims", "complex-ridge", true, asAims},
		{"ridge on few", "complex-ridge", true, first(30)},
		{"ridge", "complex-ridge", true, every},
		{"ridge without gyroscope", "complex-ridge", false, every},
		{"trees", "cart", true, every},
		{"trees without gyroscope", "cart", false, every},
	}
}

// trained fits a detector.
func trained(t testing.TB, d detector) *models.File {
	t.Helper()
	family, ok := models.FamilyByName(d.family)
	if !ok {
		t.Fatalf("no family %s", d.family)
	}
	ex := d.labels(ofRecordings(t, d.gyro).examples)
	fitted, err := family.Fit(t.Context(), ex, 1)
	if err != nil {
		t.Fatal(err)
	}
	return &models.File{Detector: fitted, Training: models.Training{Seed: 1, Sessions: []string{"friday", "monday"}, Truth: "timed", Examples: len(ex)}}
}

// exported trains and exports a detector.
func exported(t testing.TB, d detector) *firmware.Bundle {
	t.Helper()
	b, err := firmware.Export(trained(t, d), hall(t, d.gyro), ofRecordings(t, d.gyro).rows, firmware.Options{Tool: "strikerose test"})
	if err != nil {
		t.Fatal(err)
	}
	return b
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
func strict() []string {
	return []string{"-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-Wdouble-promotion", "-Wstrict-prototypes", "-Werror", "-O2"}
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

// The compiled code agrees with the detector on real strikes and on extremes,
// also under the sanitizers.
func TestCompiledCodeAgrees(t *testing.T) {
	for _, d := range detectors() {
		t.Run(strings.ReplaceAll(d.name, " ", "-"), func(t *testing.T) {
			b := exported(t, d)
			dir := written(t, b)
			for name, flags := range map[string][]string{
				"plain":      strict(),
				"sanitizers": append(strict(), "-g", "-fsanitize=address,undefined,float-cast-overflow", "-fno-sanitize-recover=all"),
			} {
				text, err := exec.Command(compiled(t, dir, flags...)).CombinedOutput()
				if err != nil {
					t.Errorf("%s: %v\n%s", name, err, text)
				}
				if name == "plain" {
					t.Logf("%s", text)
				}
			}
			for _, n := range b.Notes {
				t.Log(n)
			}
		})
	}
}

var _ = math.Pi
