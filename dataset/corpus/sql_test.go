package corpus

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
)

// The SQL of the README runs in DuckDB as it stands there, and answers what it
// says.
func TestReadmeSQL(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join(datasettest.Root(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	c, err := OpenOrCreate(filepath.Join(dir, "gym"))
	if err != nil {
		t.Fatal(err)
	}
	addSession(t, c, "evening1", testRig(t, "garage", true), 2500, 1)
	addSession(t, c, "friday", testRig(t, "attic", false), 2500, 3)
	strikes, _, err := c.Strikes("evening1")
	if err != nil {
		t.Fatal(err)
	}
	labels := testLabels(strikes)
	var answers []Answer
	for i, k := range strikes { // 3 degrees off, across north as well, and on the wrong face once
		a := Answer{Session: "evening1", OnsetNs: k.OnsetNs + 2_000_000, ReadyNs: k.ReadyNs, Face: labels[i].Face}
		if labels[i].BearingDeg != nil {
			a.BearingDeg = math.Mod(*labels[i].BearingDeg+357, 360)
		}
		if i == 2 {
			a.Face++
		}
		answers = append(answers, a)
	}
	f, err := os.Create(filepath.Join(dir, "strikes.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := WriteAnswers(t.Context(), f, answers); err != nil {
		t.Fatal(err)
	}
	var queries []string
	for _, m := range regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllStringSubmatch(string(readme), -1) {
		queries = append(queries, strings.SplitAfter(strings.TrimSpace(m[1]), ";\n")...)
	}
	got := runSQL(t, dir, queries)
	if len(got) != 6 {
		t.Fatalf("the README holds %d queries, want 6", len(got))
	}
	n := len(strikes) // DuckDB writes numbers of 64 bits as text
	if diff := cmp.Diff([]map[string]any{
		{"session": "evening1", "striker": "anna", "strikes": strconv.Itoa(n), "peak_mps2": 50 + float64(n-1)/14},
		{"session": "friday", "striker": "anna", "strikes": strconv.Itoa(n), "peak_mps2": 50 + float64(n-1)/14},
	}, got[0], near()); diff != "" {
		t.Errorf("strikes of each session (-want +got):\n%s", diff)
	}
	var troubled []map[string]any
	for _, session := range []string{"evening1", "friday"} {
		troubled = append(troubled, map[string]any{
			"session": session, "gaps": "1", "restarts": "0", "lost_samples": "0", "clipped_samples": "0",
			"strikes_clipped": strconv.Itoa((n + 1) / 2), "strikes_near_gap": strconv.Itoa((n + 2) / 3),
		})
	}
	if diff := cmp.Diff(troubled, got[1], near()); diff != "" {
		t.Errorf("sessions with clipping or gaps (-want +got):\n%s", diff)
	}
	var places, covered []map[string]any
	for _, session := range []string{"evening1", "friday"} {
		for i := range n {
			if i != 1 { // which was no strike
				places = append(places, map[string]any{"session": session, "face": float64(1 + i), "band": "low", "strikes": "1"})
			}
		}
		one := strconv.Itoa(n - 1)
		covered = append(covered, map[string]any{"session": session, "strikes": strconv.Itoa(n), "labelled": one, "by_plan": one, "timed": "0"})
	}
	if diff := cmp.Diff(places, got[2], near()); diff != "" {
		t.Errorf("strikes by face and band (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(covered, got[3], near()); diff != "" {
		t.Errorf("labelled strikes (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]map[string]any{
		{"rig": "garage-r1", "kind": "hook", "strikes": strconv.Itoa(n - 1), "right_face": 1 - 1/float64(n-1), "mean_error_deg": 3.0},
	}, got[4], near()); diff != "" {
		t.Errorf("errors by rig and kind (-want +got):\n%s", diff)
	}
	around := got[5]
	if len(around) != 120 {
		t.Fatalf("%d samples around the strike, want 120", len(around))
	}
	if first, last := around[0]["t_s"].(float64), around[119]["t_s"].(float64); first < -0.02 || first > -0.018 || last > 0.1 || last < 0.098 {
		t.Errorf("the samples lie from %g to %g s, want from -0.02 to 0.1", first, last)
	}
	if around[0]["ax_mps2"] == nil || around[0]["gz_radps"] == nil {
		t.Errorf("a sample lacks its reading: %v", around[0])
	}
}

// runSQL asks DuckDB in a directory and returns the rows that each query gives.
func runSQL(t *testing.T, dir string, queries []string) [][]map[string]any {
	t.Helper()
	node, modules := duckDB(t)
	script, err := filepath.Abs(filepath.Join("testdata", "duckdb", "sql.js"))
	if err != nil {
		t.Fatal(err)
	}
	args, files := []string{script}, t.TempDir()
	for i, query := range queries {
		name := filepath.Join(files, strconv.Itoa(i)+".sql")
		if err := os.WriteFile(name, []byte(query), 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, name)
	}
	cmd := exec.Command(node, args...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "NODE_PATH="+modules)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("node: %v\n%s", err, stderr.String())
	}
	var got [][]map[string]any
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return got
}

// near takes numbers for equal that another order of sums makes differ.
func near() cmp.Option {
	return cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
}
