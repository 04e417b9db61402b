package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
)

// answering is a test's world with a person at a terminal who types answers.
func answering(out, errs *bytes.Buffer, answers ...string) world {
	w := testWorld(out, errs)
	w.asks, w.in = true, strings.NewReader(strings.Join(answers, "\n")+"\n")
	return w
}

// On a terminal, rig new asks; wrong answers are asked again.
func TestRigNewAsks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "garage.toml")
	var out, errs bytes.Buffer
	w := answering(&out, &errs, "1,2", "wide", "0.4", "", "0.5", "3", "0.6", "800", "", "0", "0 90 up", "0, 270, up")
	if status := run(t.Context(), []string{"rig", "new", path}, w); status != exitDone {
		t.Fatalf("exit status %d:\n%s", status, errs.String())
	}
	r, err := rig.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	got := []float64{r.Bag.LengthM, r.Bag.DiameterM, r.Bag.MassKg, r.Hang.ChainM, r.Sensor.DepthM, r.Sensor.RateHz, r.Sensor.AccelRangeG, r.Sensor.GyroRangeDPS}
	if diff := cmp.Diff([]float64{1.2, 0.4, 35, 0.5, 0.6, 800, 16, 0}, got); diff != "" {
		t.Errorf("sizes (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(rig.Axes{X: "0", Y: "270", Z: "up"}, r.Sensor.Axes); diff != "" {
		t.Errorf("axes (-want +got):\n%s", diff)
	}
	for _, want := range []string{`"wide" is no such number`, "Diameter, m [0.35]", "left-handed"} {
		if !strings.Contains(errs.String(), want) {
			t.Errorf("the questions lack %q:\n%s", want, errs.String())
		}
	}
}

// Nobody is asked in a pipe or with --yes, a person may leave, and nothing is
// written then.
func TestRigNewAsksNobody(t *testing.T) {
	dir := t.TempDir()
	var out, errs bytes.Buffer
	for name, w := range map[string]world{"pipe": testWorld(&out, &errs), "yes": answering(&out, &errs)} {
		path := filepath.Join(dir, name+".toml")
		args := []string{"rig", "new", path}
		if name == "yes" {
			args = append(args, "--yes")
		}
		if status := run(t.Context(), args, w); status != exitDone {
			t.Fatalf("%s: exit status %d:\n%s", name, status, errs.String())
		}
		if got, _ := os.ReadFile(path); !bytes.Equal(got, rig.Template(name)) {
			t.Errorf("%s: the file is not the template:\n%s", name, got)
		}
	}
	path := filepath.Join(dir, "left.toml")
	if status := run(t.Context(), []string{"rig", "new", path}, answering(&out, &errs, "1.1")); status != exitFailed {
		t.Errorf("left: exit status %d", status)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a file is written for somebody who left")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if status := run(ctx, []string{"rig", "new", path}, answering(&out, &errs)); status != exitInterrupted && status != exitFailed {
		t.Errorf("interrupted: exit status %d", status)
	}
}

// On a terminal, import shows what it understood and keeps nothing on a no.
func TestImportAsks(t *testing.T) {
	long(t)
	dir := fixture(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	line := []string{"import", "-C", in("gym"), "--rig", in("hall.toml"), in("monday.csv.zst")}
	for _, c := range []struct {
		name, answer string
		more         []string
		status, kept int
		asked        bool
	}{
		{"no", "n", nil, exitFailed, 0, true},
		{"silence", "", nil, exitDone, 1, true},
		{"yes", "perhaps\ny", []string{"--force"}, exitDone, 1, true},
		{"not asked", "n", []string{"--force", "--yes"}, exitDone, 1, false},
	} {
		var out, errs bytes.Buffer
		if status := run(t.Context(), append(line, c.more...), answering(&out, &errs, c.answer)); status != c.status {
			t.Errorf("%s: exit status %d, want %d:\n%s", c.name, status, c.status, errs.String())
		}
		if asked := strings.Contains(errs.String(), "Is that right?"); asked != c.asked {
			t.Errorf("%s: asked: %v", c.name, asked)
		}
		if n := strings.Count(out.String(), "recognised"); n != 1 || !strings.Contains(out.String(), "axis z of the sensor, which reads 9.") {
			t.Errorf("%s: what was understood is shown %d times:\n%s", c.name, n, out.String())
		}
		if c.kept == 0 {
			if _, err := os.Stat(in("gym")); !os.IsNotExist(err) {
				t.Errorf("%s: a corpus is left that nothing was kept in: %v", c.name, err)
			}
			continue
		}
		corpus, err := corpus.Open(in("gym"))
		if err != nil {
			t.Fatal(err)
		}
		sessions, err := corpus.Sessions()
		if err != nil || len(sessions) != c.kept {
			t.Errorf("%s: %d sessions, %v, want %d", c.name, len(sessions), err, c.kept)
		}
	}
}
