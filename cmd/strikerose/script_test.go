package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/rogpeppe/go-internal/testscript"
	"strikerose/dataset/datasettest"
	"strikerose/testdata/recordings"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"strikerose": heard})
}

// TestScripts runs the commands as a user would. Each script starts in a
// directory with the two recordings and their rig file, hall.toml.
func TestScripts(t *testing.T) {
	long(t)
	lines := t.TempDir()
	t.Cleanup(func() {
		nothingAmiss(t, lines)
		asTheSchemasSay(t, lines)
	})
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       datasettest.Updating(),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("TMPDIR", env.WorkDir)
			env.Setenv(linesKept, lines)
			return os.CopyFS(env.WorkDir, recordings.Files)
		},
		Condition: func(cond string) (bool, error) {
			if cond == "root" {
				return os.Geteuid() == 0, nil
			}
			if tool, ok := strings.CutPrefix(cond, "tool:"); ok {
				return hasTool(tool)
			}
			return false, fmt.Errorf("unknown condition %q", cond)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"log":    cmdLog,
			"append": cmdAppend,
			"long":   cmdLong,
			"flip":   cmdFlip,
			"cut":    cmdCut,
			"edit":   cmdEdit,
			"unpack": cmdUnpack,
		},
	})
}

// hasTool tells whether a program that a script needs beside Go is there. A missing
// one is an error with STRIKEROSE_REQUIRE_TOOLS=1.
func hasTool(name string) (bool, error) {
	_, err := exec.LookPath(name)
	if err != nil && os.Getenv("STRIKEROSE_REQUIRE_TOOLS") == "1" {
		return false, fmt.Errorf("%s is missing: .ci/tools installs it", name)
	}
	return err == nil, nil
}

// long marks a test that runs many commands one after the other. None of them
// needs the race detector, under which they take minutes.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("runs many commands; leave out -short to run it")
	}
}

// cmdLog writes a log of a bag at rest: log FILE [rows=2000] [az=2048]
// [ay=0] [ax=0] [unit=counts]. Counts carry noise of a few.
func cmdLog(ts *testscript.TestScript, neg bool, args []string) {
	rows, az, ay, ax, unit := 2000, 2048, 0, 0, "counts"
	for _, arg := range args[1:] {
		key, value, _ := strings.Cut(arg, "=")
		n, err := strconv.Atoi(value)
		switch key {
		case "rows":
			rows = n
		case "az":
			az = n
		case "ay":
			ay = n
		case "ax":
			ax = n
		case "unit":
			unit, err = value, nil
		default:
			err = fmt.Errorf("unknown key")
		}
		ts.Check(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	noise := func() int { return rng.IntN(9) - 4 }
	var b bytes.Buffer
	if unit == "g" {
		b.WriteString("time_ms,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps\n")
	} else {
		b.WriteString("t_us,ax,ay,az,gx,gy,gz\n")
	}
	for i := range rows {
		if unit == "g" {
			fmt.Fprintf(&b, "%.3f,%.4f,%.4f,%.4f,%.2f,%.2f,%.2f\n", float64(i), float64(ax+noise())/2048, float64(ay+noise())/2048,
				float64(az+noise())/2048, float64(noise())/16, float64(noise())/16, float64(noise())/16)
			continue
		}
		fmt.Fprintf(&b, "%d,%d,%d,%d,%d,%d,%d\n", 1000*i, ax+noise(), ay+noise(), az+noise(), noise(), noise(), noise())
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o644))
}

// cmdAppend adds lines to a file: append FILE LINE...
func cmdAppend(ts *testscript.TestScript, neg bool, args []string) {
	f, err := os.OpenFile(ts.MkAbs(args[0]), os.O_APPEND|os.O_WRONLY, 0)
	ts.Check(err)
	defer f.Close()
	for _, line := range args[1:] {
		_, err = fmt.Fprintln(f, line)
		ts.Check(err)
	}
}

// cmdLong adds one line of many bytes: long FILE BYTES.
func cmdLong(ts *testscript.TestScript, neg bool, args []string) {
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	cmdAppend(ts, false, []string{args[0], strings.Repeat("7", n)})
}

// cmdFlip damages one byte: flip FILE OFFSET; a negative one counts from the
// end. FILE may be a pattern that fits one file.
func cmdFlip(ts *testscript.TestScript, neg bool, args []string) {
	path := onlyFile(ts, args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	data[offset(ts, args[1], len(data))] ^= 0x55
	ts.Check(os.WriteFile(path, data, 0o644))
}

// cmdCut shortens a file: cut FILE BYTES; a negative number cuts as many off.
func cmdCut(ts *testscript.TestScript, neg bool, args []string) {
	path := onlyFile(ts, args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	ts.Check(os.WriteFile(path, data[:offset(ts, args[1], len(data))], 0o644))
}

// cmdEdit replaces a text that stands once in a file: edit FILE OLD NEW.
func cmdEdit(ts *testscript.TestScript, neg bool, args []string) {
	path := onlyFile(ts, args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	if n := strings.Count(string(data), args[1]); n != 1 {
		ts.Fatalf("%s holds %q %d times", args[0], args[1], n)
	}
	ts.Check(os.WriteFile(path, []byte(strings.Replace(string(data), args[1], args[2], 1)), 0o644))
}

// cmdUnpack decompresses a zstd file: unpack FROM TO.
func cmdUnpack(ts *testscript.TestScript, neg bool, args []string) {
	f, err := os.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	r, err := zstd.NewReader(f)
	ts.Check(err)
	defer r.Close()
	data, err := io.ReadAll(r)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), data, 0o644))
}

func onlyFile(ts *testscript.TestScript, pattern string) string {
	found, err := filepath.Glob(ts.MkAbs(pattern))
	ts.Check(err)
	if len(found) != 1 {
		ts.Fatalf("%s: fits %d files", pattern, len(found))
	}
	return found[0]
}

func offset(ts *testscript.TestScript, text string, size int) int {
	n, err := strconv.Atoi(text)
	ts.Check(err)
	if n < 0 {
		n += size
	}
	return n
}
