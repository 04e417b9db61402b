package cost_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/chain/board"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/cost"
	"strikerose/models/firmware/emulate"
	"strikerose/testdata/recordings"
)

// hall is the rig of the committed recordings, with or without its gyroscope.
func hall(gyro bool) (*rig.Rig, error) {
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

// recording is one of the committed recordings.
type recording struct {
	signal   *dataset.Signal
	examples []models.Example // its strikes, in their order, with their truth
}

// committed reads the committed recordings once, with and without gyroscope.
var committed = sync.OnceValues(func() (map[bool][]recording, error) {
	out := map[bool][]recording{}
	for _, gyro := range []bool{true, false} {
		for name, log := range map[string]string{"monday": "monday.csv.zst", "friday": "friday.bin.zst"} {
			r, err := read(name, log, gyro)
			if err != nil {
				return nil, err
			}
			out[gyro] = append(out[gyro], r)
		}
	}
	return out, nil
})

func read(name, log string, gyro bool) (recording, error) {
	var out recording
	r, err := hall(true)
	if err != nil {
		return out, err
	}
	data, err := recordings.Files.ReadFile(log)
	if err != nil {
		return out, err
	}
	in, err := intake.Read(context.Background(), bytes.NewReader(data), log, r, intake.Options{}, nil)
	if err != nil {
		return out, err
	}
	out.signal = &in.Signal
	if !gyro {
		out.signal.G = [3][]float32{}
	}
	if r, err = hall(gyro); err != nil {
		return out, err
	}
	pre, post := features.Longest()
	windows, err := chain.Run(context.Background(), r, out.signal, chain.Options{PreMs: pre, PostMs: post})
	if err != nil {
		return out, err
	}
	truth, err := recordings.Files.ReadFile(name + "-truth.csv")
	if err != nil {
		return out, err
	}
	lines, err := csv.NewReader(bytes.NewReader(truth)).ReadAll()
	if err != nil {
		return out, err
	}
	if len(lines)-1 != len(windows) {
		return out, fmt.Errorf("%s: %d strikes found, %d in the truth", name, len(windows), len(lines)-1)
	}
	for i, w := range windows {
		e := models.Example{Session: name, Input: models.InputOf(w, r)}
		if e.BearingDeg, err = strconv.ParseFloat(lines[i+1][1], 64); err != nil {
			return out, err
		}
		if e.HeightM, err = strconv.ParseFloat(lines[i+1][2], 64); err != nil {
			return out, err
		}
		out.examples = append(out.examples, e)
	}
	return out, nil
}

// kind is a detector that can be exported.
type kind struct {
	name, family string
	gyro         bool
}

func kinds() []kind {
	return []kind{
		{"arctangent", "peak-arctangent", false}, {"kick", "kick-direction", true}, {"kick without gyroscope", "kick-direction", false},
		{"pendulum", "pendulum", true}, {"ridge", "complex-ridge", true}, {"ridge without gyroscope", "complex-ridge", false},
		{"trees", "cart", true}, {"trees without gyroscope", "cart", false},
	}
}

// fitted keeps what was trained.
var fitted sync.Map

// device trains a kind of detector and brings it to a board's numbers.
func device(t testing.TB, k kind, profile string) (*firmware.Device, *models.File) {
	t.Helper()
	all, err := committed()
	if err != nil {
		t.Fatal(err)
	}
	r, err := hall(k.gyro)
	if err != nil {
		t.Fatal(err)
	}
	train, _ := fitted.LoadOrStore(k.name, sync.OnceValues(func() (*models.File, error) {
		family, ok := models.FamilyByName(k.family)
		if !ok {
			return nil, fmt.Errorf("no family %s", k.family)
		}
		var ex []models.Example
		for _, r := range all[k.gyro] {
			ex = append(ex, r.examples...)
		}
		d, err := family.Fit(context.Background(), ex, models.Options{Seed: 1})
		return &models.File{Detector: d, Training: models.Training{Seed: 1, Truth: "timed", Examples: len(ex)}}, err
	}))
	f, err := train.(func() (*models.File, error))()
	if err != nil {
		t.Fatal(err)
	}
	v, err := firmware.NewDevice(f.Detector, r, profile)
	if err != nil {
		t.Fatal(err)
	}
	return v, f
}

// exported writes a detector's C.
func exported(t testing.TB, v *firmware.Device, f *models.File) []cost.File {
	t.Helper()
	b, err := firmware.Export(t.Context(), f, v.Rig, firmware.Options{Profile: v.Profile})
	if err != nil {
		t.Fatal(err)
	}
	var out []cost.File
	for _, x := range b.Files {
		out = append(out, cost.File{Name: x.Name, Data: x.Data})
	}
	return out
}

// stream cuts a detector's strikes out of the recordings: each with the readings
// around it, up to most samples. The stamps jump between them, so that segments
// end too.
func stream(t testing.TB, v *firmware.Device, gyro bool, most int) []board.Sample {
	t.Helper()
	all, err := committed()
	if err != nil {
		t.Fatal(err)
	}
	var out []board.Sample
	for _, r := range all[gyro] {
		samples := firmware.Samples(v.Rig, r.signal, 1e6)
		events, err := v.Run(t.Context(), samples)
		if err != nil {
			t.Fatal(err)
		}
		from := 0
		for _, e := range events {
			start, end := max(from, e.Onset-v.Ring/2), min(len(samples), e.Ready+20)
			if e.Onset < from || len(out)+end-start > most {
				continue
			}
			out = append(out, samples[start:end]...)
			from = end
		}
	}
	return out
}

// require skips where a target's tools are missing.
func require(t testing.TB, target emulate.Target) {
	t.Helper()
	if err := target.Check(); errors.Is(err, emulate.ErrMissing) {
		datasettest.Missing(t, target.Compiler+"gcc, "+target.Emulator, target.Install)
	}
}
