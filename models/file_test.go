package models_test

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
	"strikerose/models"
	"strikerose/models/modelstest"
)

// saved fits a family on a small simulated evening and saves it.
func saved(t testing.TB, name string, gyro bool) []byte { return savedOf(t, name, gyro, 12) }

func savedOf(t testing.TB, name string, gyro bool, strikes int) []byte {
	t.Helper()
	return savedWith(t, name, gyro, strikes, nil)
}

func savedWith(t testing.TB, name string, gyro bool, strikes int, settings map[string]float64) []byte {
	t.Helper()
	f, ok := models.FamilyByName(name)
	if !ok {
		t.Fatalf("no family %q", name)
	}
	d, err := f.Fit(t.Context(), modelstest.Examples(t, modelstest.Rig(gyro), "monday", strikes, 3), models.Options{Seed: 1, Settings: settings})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := models.Save(&b, d, models.Training{Seed: 1, Sessions: []string{"monday"}, Truth: "timed", Tool: "test", Examples: strikes}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The file's form is a promise: what changes it must raise the version.
func TestFileGolden(t *testing.T) {
	d, err := models.Families()[0].Fit(t.Context(), nil, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := models.Save(&b, d, models.Training{Seed: 7, Sessions: []string{}, Truth: "none", Tool: "strikerose test"}); err != nil {
		t.Fatal(err)
	}
	datasettest.Golden(t, "peak-arctangent.json", b.Bytes())
}

// What was seen in training comes back from the file, and what no training writes
// is refused.
func TestFileKeepsWhatWasSeen(t *testing.T) {
	d, err := models.Families()[0].Fit(t.Context(), nil, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	save := func(s models.Seen) []byte {
		var b bytes.Buffer
		if err := models.Save(&b, d, models.Training{Seen: []models.Seen{s}}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	good := func() models.Seen {
		return models.Seen{Session: "monday", Rig: "garage-r1", Strikes: 3,
			Spreads: []models.SeenSpread{{Name: "height_m", N: 3, Quantiles: []float64{0.1, 0.5, 0.5}}},
			Figures: []models.SeenFigure{{Name: "rocking_hz", Value: 2.1, SD: 0.01}}}
	}
	f, err := models.Load(bytes.NewReader(save(good())))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]models.Seen{good()}, f.Training.Seen); diff != "" {
		t.Error(diff)
	}
	for name, spoil := range map[string]func(*models.Seen){
		"no session":     func(s *models.Seen) { s.Session = "" },
		"no rig":         func(s *models.Seen) { s.Rig = "" },
		"less than none": func(s *models.Seen) { s.Strikes = -1 },
		"no quantiles":   func(s *models.Seen) { s.Spreads[0].Quantiles = nil },
		"too many":       func(s *models.Seen) { s.Spreads[0].N = 2 },
		"falling":        func(s *models.Seen) { s.Spreads[0].Quantiles[1] = 0 },
		"negative error": func(s *models.Seen) { s.Figures[0].SD = -1 },
	} {
		s := good()
		spoil(&s)
		if _, err := models.Load(bytes.NewReader(save(s))); err == nil || !strings.Contains(err.Error(), "seen: ") || !strings.Contains(err.Error(), "train again") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestLoadRefuses(t *testing.T) {
	good := string(saved(t, "complex-ridge", true))
	near := string(saved(t, "k-nearest", true))
	tree := string(saved(t, "cart", true))
	many := string(saved(t, "forest", true))
	sum := string(saved(t, "boosted-trees", false))
	classes := string(saved(t, "discriminant", true))
	nets := string(savedOf(t, "perceptron", true, 48))
	pair := string(saved(t, "forest+complex-ridge", true))
	replace := func(s, old, new string) string {
		t.Helper()
		if !strings.Contains(s, old) {
			t.Fatalf("the file holds no %s", old)
		}
		return strings.Replace(s, old, new, 1)
	}
	for _, c := range []struct{ name, in, want string }{
		{"nothing", "", "strikerose train"},
		{"not JSON", "t_us,ax,ay,az\n", "not a detector file"},
		{"another JSON", `{"name":"x"}`, "not a detector file"},
		{"newer version", replace(good, `"version": 1`, `"version": 9`), "newer strikerose"},
		{"version 0", replace(good, `"version": 1`, `"version": 0`), "damaged"},
		{"unknown detector", replace(good, `"detector": "complex-ridge"`, `"detector": "crystal-ball"`), "crystal-ball"},
		{"unknown feature", replace(good, `"kick"`, `"kickback"`), "kickback"},
		{"features defined otherwise", replace(good, `"sha256": "`, `"sha256": "0`), "train again"},
		{"unknown field", replace(good, `"rigs":`, `"rugs": 1, "rigs":`), "rugs"},
		{"cut short", good[:len(good)/2], "not a detector file"},
		{"two values", good + good, "not a detector file"},
		{"another's parameters", replace(good, "\"parameters\": {\n    \"form\": \"", "\"parameters\": {\n    \"form\": \"x"), "unknown"},
		{"no parameters", `{"format":"strikerose detector","version":1,"detector":"peak-arctangent","features":{"names":[],"sha256":"` + emptyHash + `"},"training":{"seed":1,"sessions":null,"truth":"","examples":0},"rigs":null,"certainty":{}}`, "no parameters"},
		{"negative certainty", replace(good, `"bearing_sd_deg": `, `"bearing_sd_deg": -`), "below 0"},
		{"certainty of nothing", replace(good, `"bearing_factor": 1`, `"bearing_factor": 0`), "above 0"},
		{"yaw beyond a turn", replace(good, `"yaw_deg": `, `"yaw_deg": 900`), "yaw_deg"},
		{"too many neighbours", replace(near, "\"neighbours\": 12,\n    \"memory\"", "\"neighbours\": 99,\n    \"memory\""), "99 neighbours"},
		{"setting of none", replace(near, "\"neighbours\": 0\n", "\"neighbors\": 0\n"), "neighbours"},
		{"setting that does not work", replace(near, "\"neighbours\": 0\n", "\"neighbours\": -7\n"), "-7"},
		{"tree that loops", replace(tree, `"below": 1`, `"below": 0`), "children"},
		{"tree of too many nodes", replace(many, `"split": [`, `"split": [-1,`), "after the end"},
		{"tree of another width", replace(many, `"columns": `, `"columns": 1`), "differs from the first"},
		{"no forest of heights", replace(many, `"rise": `, `"risen": `), "unknown field"},
		{"sums of angles for heights", replace(sum, `"rise": {`, `"rise": {"start_sine": 0,`), "another kind"},
		{"classes without means", replace(classes, `"means": [`, `"means": [1,`), "classes"},
		{"classes on other features", replace(classes, `"coefficients": [`, `"coefficients": [[1],`), "coefficients"},
		{"corrections of no size", replace(nets, `"turn_rad": `, `"turn_rad": -`), "scales"},
		{"net of no output", replace(nets, `"out_bias": [`, `"out_bias": [1,`), "outputs"},
		{"half a pair", replace(pair, `"height": {`, `"depth": {`), "unknown field"},
		{"pair of one", replace(pair, `"detector": "forest+complex-ridge"`, `"detector": "forest+forest"`), "forest+forest"},
		{"pair of others", replace(pair, `"detector": "forest+complex-ridge"`, `"detector": "forest+cart"`), "height"},
		{"scale of nothing", replace(tree, `"spread": [`, `"spread": [0,`), "spreads"},
	} {
		_, err := models.Load(strings.NewReader(c.in))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "detector: ") {
			t.Errorf("%s: error %v; want one about %q", c.name, err, c.want)
		}
	}
}

// endless repeats a text for ever.
type endless struct {
	text string
	read int // bytes
}

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e.text[(e.read+i)%len(e.text)]
	}
	e.read += len(p)
	return len(p), nil
}

// What no detector file holds is refused before it is taken apart: a few bytes of
// text can be many of memory.
func TestLoadRefusesWithoutEnd(t *testing.T) {
	good := string(saved(t, "forest", true))
	at := func(before string) string { return good[:strings.Index(good, before)+len(before)] }
	for name, c := range map[string]struct{ head, more, want string }{
		"a word":             {at(`"detector": "`), "x", "longer than 64 MB"},
		"blanks":             {"", " ", "longer than 64 MB"},
		"lists in lists":     {"", "[", "at byte 32 more than 32 lists within each other"},
		"objects in objects": {at(`"parameters": `), `{"a":`, "lists within each other"},
		"rigs":               {at(`"rigs": [`), "{},", "more than 100000 objects"},
		"sessions":           {at(`"sessions": [`), `"",`, "more than 8000000 values"},
		"lists of nothing":   {at(`"split": [`), `[],`, "more than 500000 lists"},
		"numbers":            {at(`"thresholds": [`), "1,", "more than 8000000 values"},
	} {
		more := io.Reader(&endless{text: c.more})
		if c.want != "longer than 64 MB" {
			more = io.LimitReader(more, 25<<20)
		}
		_, err := models.Load(io.MultiReader(strings.NewReader(c.head), more))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "detector: ") {
			t.Errorf("%s: error %v; want one about %q", name, err, c.want)
		}
	}
}

// emptyHash is SHA-256 of nothing (FIPS 180-4 test value).
const emptyHash = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"

func FuzzLoad(f *testing.F) {
	for _, name := range models.Names() {
		f.Add(savedOf(f, name, true, 1))
	}
	for _, name := range []string{"complex-ridge", "perceptron", "informed", "k-nearest"} {
		f.Add(savedOf(f, name, false, 1))
	}
	f.Add(savedWith(f, "informed", true, 44, map[string]float64{"starts": 1, "units": 2}))
	f.Add(savedOf(f, "pendulum+complex-ridge", true, 1))
	f.Add(correctedFile(f, modelstest.Rig(true)))
	f.Add([]byte(`{"format":"strikerose detector","version":2}`))
	inputs := hostileInputs(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := models.Load(bytes.NewReader(data))
		if err != nil {
			return
		}
		answersSoundly(t, "opened", file.Detector, inputs)
		var b bytes.Buffer
		if err := models.Save(&b, file.Detector, file.Training); err != nil {
			t.Fatal(err)
		}
		if _, err := models.Load(&b); err != nil {
			t.Fatalf("saved again: %v", err)
		}
	})
}

// A file says what a reader needs to judge it.
func TestFileIsReadable(t *testing.T) {
	var f struct {
		Features struct{ Names []string }
		Rigs     []struct {
			Rig       string
			Labels    int
			Constants map[string]any
		}
		Certainty struct {
			Calibrated bool
			How        string
		}
		Scores []struct {
			Form string
			MAE  float64 `json:"bearing_mae_deg"`
		}
	}
	if err := json.Unmarshal(saved(t, "complex-ridge", true), &f); err != nil {
		t.Fatal(err)
	}
	if len(f.Features.Names) == 0 || len(f.Rigs) != 1 || f.Rigs[0].Rig != "simulated-r1" || f.Rigs[0].Labels < 9 ||
		f.Rigs[0].Constants["sensor_depth_m"] != 0.2 || !f.Certainty.Calibrated || f.Certainty.How == "" ||
		len(f.Scores) == 0 || !(f.Scores[0].MAE > 0 && f.Scores[0].MAE < 10) || math.IsNaN(f.Scores[0].MAE) {
		t.Errorf("file says %+v", f)
	}
}
