package cost_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/features/chain/board"
	"strikerose/models/firmware"
	"strikerose/models/firmware/cost"
)

// differ tells how the events of C differ from Go's: in fixed point not at all,
// in float32 by a last digit that libraries round otherwise.
func differ(profile, got, want string) error {
	if profile == firmware.Fixed {
		if got != want {
			return fmt.Errorf("C says\n%sGo says\n%s", short(got), short(want))
		}
		return nil
	}
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	if len(g) != len(w) {
		return fmt.Errorf("C has %d events, Go %d", len(g)-1, len(w)-1)
	}
	for i := range w {
		if w[i] == g[i] {
			continue
		}
		var a, b struct{ t, number, stage, ddeg, face, mm, flags int64 }
		const form = "%d,%d,%d,%d,%d,%d,%d"
		if _, err := fmt.Sscanf(g[i], form, &a.t, &a.number, &a.stage, &a.ddeg, &a.face, &a.mm, &a.flags); err != nil {
			return fmt.Errorf("C says %q: %w", g[i], err)
		}
		if _, err := fmt.Sscanf(w[i], form, &b.t, &b.number, &b.stage, &b.ddeg, &b.face, &b.mm, &b.flags); err != nil {
			return fmt.Errorf("Go says %q: %w", w[i], err)
		}
		turn := bearing.Diff(float64(a.ddeg)/10, float64(b.ddeg)/10)
		high := a.mm - b.mm
		if a.t != b.t || a.number != b.number || a.stage != b.stage || a.flags != b.flags || turn > 0.101 || turn < -0.101 || high > 1 || high < -1 {
			return fmt.Errorf("C says %s, Go %s", g[i], w[i])
		}
	}
	return nil
}

// short keeps the first lines of a text.
func short(text string) string {
	lines := strings.SplitAfter(text, "\n")
	return strings.Join(lines[:min(len(lines), 12)], "")
}

// log writes samples as replay.c reads them.
func log(samples []board.Sample) []byte {
	var b strings.Builder
	b.WriteString("t_us,ax,ay,az,gx,gy,gz\n")
	for _, s := range samples {
		fmt.Fprintf(&b, "%d,%d,%d,%d,%d,%d,%d\n", s.TUs, s.A[0], s.A[1], s.A[2], s.G[0], s.G[1], s.G[2])
	}
	return []byte(b.String())
}

// sanitized compiles a program of the files for this machine, with what finds
// undefined behaviour.
func sanitized(t *testing.T, files []cost.File, program string) string {
	t.Helper()
	gcc := datasettest.RequireTool(t, "gcc", "apt-get install gcc libc6-dev")
	dir := t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(gcc, "-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-O1",
		"-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-o", "run", program, "strikerose.c", "-lm")
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return filepath.Join(dir, "run")
}

// A log without a line that replay.c reads, such as one in units or with tabs, is
// refused: silence would look like a log without a strike.
func TestReplayRefusesWhatItCannotRead(t *testing.T) {
	v, f := device(t, kinds()[0], firmware.Fixed)
	run := sanitized(t, exported(t, v, f), "replay.c")
	for name, test := range map[string]struct {
		log  string
		fine bool
	}{
		"nothing":        {"", false},
		"a header alone": {"t_us,ax,ay,az\n", false},
		"units":          {"0.0,0.01,0.02,0.98\n1.2,0.01,0.02,0.98\n", false},
		"tabs":           {"0\t1\t2\t2048\n1250\t1\t2\t2048\n", false},
		"counts":         {"t_us,ax,ay,az\nboot\n0,1,2,2048\n", true},
	} {
		cmd := exec.Command(run)
		cmd.Stdin = strings.NewReader(test.log)
		out, err := cmd.CombinedOutput()
		switch {
		case test.fine && (err != nil || len(out) > 0):
			t.Errorf("%s: %v, %q", name, err, out)
		case !test.fine && (err == nil || !strings.Contains(string(out), "no line is a sample")):
			t.Errorf("%s: %v, %q", name, err, out)
		}
	}
}

// The C of every detector says what its Go says of the same samples, and leaves
// nothing undefined: of the committed recordings and of readings that no bag gives.
func TestHostSaysWhatGoSays(t *testing.T) {
	all, err := committed()
	if err != nil {
		t.Fatal(err)
	}
	list := kinds()
	for profile, kinds := range map[string][]kind{firmware.Fixed: list, firmware.Float32: {list[0], list[4], list[5]}} {
		for _, k := range kinds {
			t.Run(profile+"/"+k.name, func(t *testing.T) {
				t.Parallel()
				v, f := device(t, k, profile)
				run := sanitized(t, exported(t, v, f), "replay.c")
				inputs := wild(v, 5000, 7)
				for _, r := range all[k.gyro] {
					inputs = append(inputs, firmware.Samples(v.Rig, r.signal, 1e6))
				}
				strikes := 0
				for i, samples := range inputs {
					events, err := v.Run(t.Context(), samples)
					if err != nil {
						t.Fatal(err)
					}
					strikes += len(events)
					cmd := exec.Command(run)
					cmd.Stdin = strings.NewReader(string(log(samples)))
					out, err := cmd.CombinedOutput()
					if err != nil {
						t.Fatalf("input %d: %v\n%s", i, err, short(string(out)))
					}
					if err := differ(profile, string(out), firmware.Lines(events)); err != nil {
						t.Fatalf("input %d: %v", i, err)
					}
				}
				if strikes < 50 {
					t.Errorf("only %d events were compared", strikes)
				}
			})
		}
	}
}

// Samples that no bag gives leave nothing undefined, and give no event that
// cannot be.
func TestFuzzProgram(t *testing.T) {
	text, err := os.ReadFile("bench/fuzz.c")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []kind{kinds()[0], kinds()[4], kinds()[7]} {
		t.Run(k.name, func(t *testing.T) {
			t.Parallel()
			v, f := device(t, k, firmware.Fixed)
			run := sanitized(t, append(exported(t, v, f), cost.File{Name: "fuzz.c", Data: text}), "fuzz.c")
			out, err := exec.Command(run, "100000", "1").CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, short(string(out)))
			}
			events := 0
			if _, err := fmt.Sscanf(string(out), "%d events", &events); err != nil || events < 10 {
				t.Errorf("%d events, %v: %s", events, err, out)
			}
		})
	}
}
