package firmware_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
	"strikerose/models/firmware"
)

// The compiled code agrees with the detector on real strikes and on extremes,
// also under the sanitizers.
func TestCompiledCodeAgrees(t *testing.T) {
	for _, d := range detectors() {
		t.Run(strings.ReplaceAll(d.name, " ", "-"), func(t *testing.T) {
			dir := written(t, exported(t, d))
			for _, flags := range [][]string{
				strict("-O2"),
				strict("-g", "-fsanitize=address,undefined,float-cast-overflow", "-fno-sanitize-recover=all"),
			} {
				text, err := exec.Command(compiled(t, dir, flags...)).CombinedOutput()
				if err != nil || !strings.Contains(string(text), "all within 0.0001") {
					t.Errorf("%v: %v\n%s", flags, err, text)
				}
				t.Logf("%s", text)
			}
		})
	}
}

// Most golden vectors are strikes, and hardly any is left out.
func TestGoldenVectors(t *testing.T) {
	for _, d := range detectors() {
		v := tableOf(t, exported(t, d)).Vectors
		if v.Recorded < 45 || v.Extreme < 10 || v.Recorded+v.Extreme+v.LeftOut != 48+11 || v.MadeUp != 0 {
			t.Errorf("%s: golden vectors are %+v", d.name, v)
		}
	}
	// Without strikes they are made up, and said to be.
	d := detectors()[0]
	b, err := firmware.Export(trained(t, d), hall(t, true), nil, firmware.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if v := tableOf(t, b).Vectors; v.Recorded != 0 || v.MadeUp < 20 {
		t.Errorf("without strikes golden vectors are %+v", v)
	}
	if !strings.Contains(strings.Join(b.Notes, "\n"), "made up") {
		t.Errorf("without strikes the notes are %q", b.Notes)
	}
}

// A changed number makes the check fail, by its checksum and by what it does.
func TestCheckCanFail(t *testing.T) {
	for _, c := range []struct{ detector, array string }{
		{"arctangent", "YAW_DEG"}, {"ridge", "PUSH"}, {"ridge", "TOP"}, {"ridge", "HEIGHT_SD_M"},
		{"ridge without gyroscope", "OUT_SIN"}, {"trees", "HEIGHT_NUMBER"},
	} {
		t.Run(strings.ReplaceAll(c.detector, " ", "-")+"/"+c.array, func(t *testing.T) {
			dir := written(t, exported(t, named(t, c.detector)))
			path := filepath.Join(dir, "strikerose_table.h")
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			definition := regexp.MustCompile(`(?s)static const float ` + c.array + `\b[^=]*= [^;]*;`)
			number := regexp.MustCompile(`-?[0-9][0-9.e+-]*f\b`)
			changed := definition.ReplaceAllStringFunc(string(text), func(s string) string {
				return number.ReplaceAllString(s, "($0 + 0.05f)")
			})
			if changed == string(text) {
				t.Fatalf("no number of %s found in\n%s", c.array, text)
			}
			if err := os.WriteFile(path, []byte(changed), 0o644); err != nil {
				t.Fatal(err)
			}
			out, err := exec.Command(compiled(t, dir, "-std=c99")).CombinedOutput()
			exit, ok := err.(*exec.ExitError)
			if !ok || exit.ExitCode() != 1 {
				t.Errorf("check: %v, want exit status 1\n%s", err, out)
			}
			for _, want := range []string{"differs by", "checksum is wrong"} {
				if !strings.Contains(string(out), want) {
					t.Errorf("check does not say %q:\n%s", want, out)
				}
			}
		})
	}
}

// A compiler that is told to disregard NAN would drop the tests for it.
func TestFastMathIsRefused(t *testing.T) {
	cc := datasettest.RequireTool(t, "cc", "apt-get install gcc libc6-dev")
	dir := written(t, exported(t, named(t, "arctangent")))
	out, err := exec.Command(cc, "-std=c99", "-ffast-math", "-c", "-o", filepath.Join(dir, "model.o"), filepath.Join(dir, "strikerose_model.c")).CombinedOutput()
	if err == nil || !strings.Contains(string(out), "compile without -ffast-math") {
		t.Errorf("cc -ffast-math: %v\n%s", err, out)
	}
}

// Same detector, same bytes; also after it was saved and loaded.
func TestDeterministic(t *testing.T) {
	d := named(t, "ridge")
	f := trained(t, d)
	var saved bytes.Buffer
	if err := models.Save(&saved, f.Detector, f.Training); err != nil {
		t.Fatal(err)
	}
	loaded, err := models.Load(&saved)
	if err != nil {
		t.Fatal(err)
	}
	one := exported(t, d)
	two, err := firmware.Export(loaded, hall(t, true), ofRecordings(t, true).rows, firmware.Options{Tool: "strikerose test"})
	if err != nil {
		t.Fatal(err)
	}
	if len(one.Files) != len(two.Files) {
		t.Fatalf("%d files and %d", len(one.Files), len(two.Files))
	}
	for i, file := range one.Files {
		if file.Name != two.Files[i].Name || !bytes.Equal(file.Data, two.Files[i].Data) {
			t.Errorf("%s differs from %s after loading", file.Name, two.Files[i].Name)
		}
	}
}

// The table says what the C holds: the same numbers, inputs and checksum.
func TestTableMatchesHeader(t *testing.T) {
	for _, d := range detectors() {
		b := exported(t, d)
		table, text := tableOf(t, b), map[string]string{}
		for _, f := range b.Files {
			text[f.Name] = string(f.Data)
		}
		literal := regexp.MustCompile(`-?[0-9][0-9.e+-]*`)
		for _, a := range table.Numbers {
			_, after, ok := strings.Cut(text["strikerose_table.h"], " "+a.Name+"[")
			if len(a.Over) == 0 {
				_, after, ok = strings.Cut(text["strikerose_table.h"], " "+a.Name+" = ")
			} else {
				_, after, _ = strings.Cut(after, "=")
			}
			body, _, _ := strings.Cut(after, ";")
			found := literal.FindAllString(body, -1)
			if !ok || len(found) != len(a.Values) {
				t.Errorf("%s: %s: %d numbers in the header, %d in the table", d.name, a.Name, len(found), len(a.Values))
				continue
			}
			for i, s := range found {
				if v, err := strconv.ParseFloat(s, 32); err != nil || float32(v) != a.Values[i] {
					t.Errorf("%s: %s: number %d is %s in the header, %g in the table", d.name, a.Name, i, s, a.Values[i])
				}
			}
		}
		for _, f := range table.Features {
			if want := fmt.Sprintf("    %s = %d,\n", f.CName, f.Index); !strings.Contains(text["strikerose_model.h"], want) {
				t.Errorf("%s: the header does not say %q", d.name, want)
			}
		}
		if want := "STRIKEROSE_TABLE_CRC32 UINT32_C(" + table.Checksum.Value + ")"; !strings.Contains(text["strikerose_model.h"], want) {
			t.Errorf("%s: the header does not say %q", d.name, want)
		}
		if len(table.Scores) == 0 && !strings.HasSuffix(d.name, "without labels") {
			t.Errorf("%s: the table holds no errors by cross-validation", d.name)
		}
	}
}

// Only features that the detector reads are inputs; on a rig without gyroscope
// none needs one.
func TestInputs(t *testing.T) {
	for _, d := range detectors() {
		for _, f := range tableOf(t, exported(t, d)).Features {
			for _, c := range features.Columns() {
				if c.Name == f.Name && features.All()[c.Def].NeedsGyro && !d.gyro {
					t.Errorf("%s: takes %s without a gyroscope", d.name, f.Name)
				}
			}
		}
	}
	table := tableOf(t, exported(t, named(t, "arctangent without labels")))
	var needed []string
	for _, f := range table.Features {
		if f.Needed {
			needed = append(needed, f.Name)
		}
	}
	if got := strings.Join(needed, " "); got != "peak_x peak_y" {
		t.Errorf("peak-arctangent needs %q", got)
	}
}

// fake is a detector of somebody else.
type fake struct{}

func (fake) Info() models.Info                     { return models.Info{Name: "fake"} }
func (fake) Estimate(models.Input) models.Estimate { return models.Estimate{} }

func TestRefusals(t *testing.T) {
	ridge := trained(t, named(t, "ridge"))
	noFaces := hall(t, true)
	noFaces.Faces = 0
	for _, c := range []struct {
		name string
		want string
		run  func() error
	}{
		{"another's detector", "fake is not one of this program's detectors", func() error {
			_, err := firmware.Export(&models.File{Detector: fake{}}, hall(t, true), nil, firmware.Options{})
			return err
		}},
		{"k-nearest", "keeps every strike that it was trained on: train one of peak-arctangent, pendulum, complex-ridge, cart", func() error {
			return exportFamily(t, "k-nearest")
		}},
		{"kick-direction", "kick-direction cannot be exported", func() error { return exportFamily(t, "kick-direction") }},
		{"principal-axis", "principal-axis cannot be exported", func() error { return exportFamily(t, "principal-axis") }},
		{"physics", "physics cannot be exported: it integrates the bag's motion anew for every strike; pendulum is its form for boards", func() error {
			return exportFamily(t, "physics")
		}},
		{"no gyroscope", "tip needs a gyroscope, and the rig has none", func() error {
			_, err := firmware.Export(ridge, hall(t, false), nil, firmware.Options{})
			return err
		}},
		{"no faces", "has 0 faces", func() error {
			_, err := firmware.Export(ridge, noFaces, nil, firmware.Options{})
			return err
		}},
		{"short input", "input 1 has 3 features", func() error {
			_, err := firmware.Export(ridge, hall(t, true), []features.Row{make(features.Row, 3)}, firmware.Options{})
			return err
		}},
	} {
		if err := c.run(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		} else if strings.Count(err.Error(), "\n") > 0 {
			t.Errorf("%s: the message runs over several lines:\n%v", c.name, err)
		}
	}
}

func exportFamily(t *testing.T, name string) error {
	t.Helper()
	_, err := firmware.Export(trained(t, detector{"", name, true, first(30)}), hall(t, true), nil, firmware.Options{})
	return err
}

// A rig that the detector was not trained on is exported with a warning and a
// wider answer.
func TestAnotherRig(t *testing.T) {
	r := hall(t, true)
	r.Revision = 2
	b, err := firmware.Export(trained(t, named(t, "ridge")), r, ofRecordings(t, true).rows, firmware.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(b.Notes, "\n"); !strings.Contains(notes, "learned nothing of rig hall-r2") {
		t.Errorf("notes are %q", notes)
	}
	if table := tableOf(t, b); table.Rig.YawKnown || table.Rig.YawDeg != 0 {
		t.Errorf("the table's rig is %+v", table.Rig)
	}
	if out, err := exec.Command(compiled(t, written(t, b), strict()...)).CombinedOutput(); err != nil {
		t.Errorf("check: %v\n%s", err, out)
	}
}

// A detector that holds a part for rigs with and one for rigs without gyroscope
// is exported for either.
func TestBothKindsOfRigs(t *testing.T) {
	with, without := hall(t, true), hall(t, false)
	without.Name = "hall-accelerometer"
	ex := append([]models.Example(nil), ofRecordings(t, true).examples...)
	for _, e := range ofRecordings(t, false).examples {
		e.Rig, e.Session = without, e.Session+"-accelerometer"
		ex = append(ex, e)
	}
	family, _ := models.FamilyByName("complex-ridge")
	d, err := family.Fit(t.Context(), ex, models.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	for gyro, r := range map[bool]*rig.Rig{true: with, false: without} {
		b, err := firmware.Export(&models.File{Detector: d}, r, ofRecordings(t, gyro).rows, firmware.Options{})
		if err != nil {
			t.Errorf("rig %s: %v", r.Key(), err)
			continue
		}
		if got := tableOf(t, b).Rig.HasGyro; got != gyro {
			t.Errorf("rig %s: exported with gyroscope %v", r.Key(), got)
		}
		if out, err := exec.Command(compiled(t, written(t, b), strict()...)).CombinedOutput(); err != nil {
			t.Errorf("rig %s: check: %v\n%s", r.Key(), err, out)
		}
	}
}
