// Package datasettest holds what the project's tests share: golden files, the
// rule for tools that may be missing, and where outside recordings lie.
package datasettest

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Root returns the repository's root directory.
func Root(t testing.TB) string {
	t.Helper()
	_, file, _, ok := runtime.Caller(0)
	if !ok {
		t.Fatal("datasettest: no caller information")
	}
	return filepath.Join(filepath.Dir(file), "..", "..")
}

// Golden compares got with a golden file below the test's testdata folder,
// or rewrites it when UPDATE_GOLDEN=1. (An environment variable, because a
// flag would have to be registered by a package variable in every test
// binary, and "go test ./... -update" fails in those that lack it.)
func Golden(t testing.TB, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if Updating() {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (run the test with UPDATE_GOLDEN=1 to write it)", err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs (-want +got; UPDATE_GOLDEN=1 rewrites it):\n%s", path, cmp.Diff(string(want), string(got)))
	}
}

// Updating tells whether golden files are to be rewritten.
func Updating() bool { return os.Getenv("UPDATE_GOLDEN") == "1" }

// RequireTool returns the path of a program that a test needs beside Go. A
// missing one skips the test, saying what to install, or fails it when
// STRIKEROSE_REQUIRE_TOOLS=1.
func RequireTool(t testing.TB, program, install string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		Missing(t, program, install)
	}
	return path
}

// Missing skips the test for want of a tool, or fails it when
// STRIKEROSE_REQUIRE_TOOLS=1.
func Missing(t testing.TB, tool, install string) {
	t.Helper()
	if os.Getenv("STRIKEROSE_REQUIRE_TOOLS") == "1" {
		t.Fatalf("%s is missing: %s", tool, install)
	}
	t.Skipf("%s is missing: %s", tool, install)
}

// Recordings returns the folder of the full outside recordings, from
// STRIKEROSE_RECORDINGS, and skips the test where it is not set. The tests
// that use it measure; what must hold everywhere is tested on the recordings
// in testdata.
func Recordings(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("STRIKEROSE_RECORDINGS")
	if dir == "" {
		t.Skip("set STRIKEROSE_RECORDINGS to the folder of the full recordings to run this measurement")
	}
	return dir
}

// Measured tells whether a measurement on recordings takes a family of
// detectors: one of those that STRIKEROSE_MEASURE lists, separated by commas, or
// any where it says all. Where it is not set, the usual ones are taken, few
// enough for a run of all tests.
func Measured(family string, usual ...string) bool {
	names := usual
	if listed := os.Getenv("STRIKEROSE_MEASURE"); listed != "" {
		names = strings.Split(listed, ",")
	}
	return slices.Contains(names, family) || slices.Contains(names, "all")
}
