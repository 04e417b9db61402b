package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

// sameFamilies are detectors of each sort of arithmetic: fits of motion, linear
// algebra, descent, trees, neighbours.
const sameFamilies = "kick-direction,physics,complex-ridge,pendulum,boosted-trees,k-nearest,discriminant,perceptron"

// wholeJob is every command from simulated logs to the report.
func wholeJob() [][]string {
	job := [][]string{
		{"simulate", "--rig", "hall.toml", "--strikes", "10", "--seed", "7", "-o", "a"},
		{"simulate", "--rig", "hall.toml", "--strikes", "10", "--seed", "8", "-o", "b"},
		{"plan", "--rig", "hall.toml", "--per-cell", "1", "-o", "plan.csv", "--sheet", "sheet.html"},
		{"import", "-C", "gym", "--rig", "hall.toml", "--striker", "anna", "a/simulated-7.bin"},
		{"import", "-C", "gym", "--rig", "hall.toml", "--striker", "ben", "b/simulated-8.bin"},
		{"find", "-C", "gym"},
		{"label", "plan", "-C", "gym", "--session", "simulated-7", "a/plan.csv"},
		{"label", "truth", "-C", "gym", "--session", "simulated-7", "--complete", "--author", "simulation", "a/truth.csv"},
		{"label", "truth", "-C", "gym", "--session", "simulated-8", "--complete", "--author", "simulation", "b/truth.csv"},
		{"features", "-C", "gym", "--labels", "-o", "features.csv"},
	}
	for _, name := range []string{"physics", "complex-ridge", "boosted-trees"} { // training one by one takes longest
		job = append(job,
			[]string{"train", "-C", "gym", "--detector", name, "-o", name + ".json"},
			[]string{"apply", "-C", "gym", "--detector", name + ".json", "-o", name + ".csv"})
	}
	return append(job,
		[]string{"export", "-C", "gym", "--detector", "complex-ridge.json", "--rig", "hall.toml", "-o", "firmware"},
		[]string{"compare", "-C", "gym", "--detectors", sameFamilies, "--json", "--report", "report.html", "--figures", "figures"},
		[]string{"draw", "session", "-C", "gym", "--session", "simulated-7", "-o", "session.svg"},
		[]string{"draw", "strike", "-C", "gym", "--session", "simulated-7", "--strike", "2", "-o", "strike.png"},
		[]string{"rig", "show", "hall.toml", "--json"},
		[]string{"check", "-C", "gym"},
	)
}

// runJob runs the whole job in a new directory, which it returns with what each
// command printed in a file beside its outputs.
func runJob(t *testing.T, env string, command ...string) string {
	t.Helper()
	dir := fixture(t)
	for i, args := range wholeJob() {
		cmd := exec.Command(command[0], append(command[1:], args...)...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), epochVariable+"=1700000000", env)
		out, err := cmd.CombinedOutput()
		if err != nil && !(args[0] == "label" && args[1] == "plan") { // too few strikes may leave a plan in doubt, the same everywhere
			t.Fatalf("%s: %v\n%s", strings.Join(args, " "), err, out)
		}
		name := strings.Join([]string{"printed", string(rune('a' + i/10)), string(rune('0' + i%10)), args[0]}, "-")
		if err := os.WriteFile(filepath.Join(dir, name), out, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// The same input and seed give the same bytes from the log to the report, however
// many processors share the work.
func TestSameBytesOnOneAndTwo(t *testing.T) {
	long(t)
	self := program(t).Path
	link := filepath.Join(t.TempDir(), "strikerose") // by this name the test binary is the program
	if err := os.Symlink(self, link); err != nil {
		t.Fatal(err)
	}
	requireSameFiles(t, runJob(t, "GOMAXPROCS=1", link), runJob(t, "GOMAXPROCS=2", link))
}

// Built by .ci/portable, the program gives them on every processor. Building it for
// two takes minutes where nothing is cached, so that .ci/run does it apart from the
// other tests.
func TestSameBytesOnARM(t *testing.T) {
	long(t)
	if os.Getenv("STRIKEROSE_PORTABLE") != "1" {
		t.Skip("builds everything for two processors: set STRIKEROSE_PORTABLE=1 to run it")
	}
	bash := datasettest.RequireTool(t, "bash", "install bash")
	emulator := datasettest.RequireTool(t, "qemu-aarch64", "install qemu-user")
	build := func(arch string) string {
		out := filepath.Join(t.TempDir(), "strikerose-"+arch)
		cmd := exec.Command(bash, filepath.Join(datasettest.Root(t), ".ci", "portable"), out)
		cmd.Env = append(os.Environ(), "GOOS=linux", "GOARCH="+arch)
		if said, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("building for %s: %v\n%s", arch, err, said)
		}
		return out
	}
	requireSameFiles(t, runJob(t, "GOMAXPROCS=2", build("amd64")), runJob(t, "GOMAXPROCS=2", emulator, build("arm64")))
}
