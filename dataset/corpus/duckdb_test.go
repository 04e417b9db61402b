package corpus

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
)

const (
	duckdbVariable = "STRIKEROSE_DUCKDB"
	duckdbInstall  = "npm install @duckdb/node-api in a folder and set " + duckdbVariable + " to it"
)

// duckDB finds Node.js and the folder of modules in which DuckDB lies.
func duckDB(t *testing.T) (node, modules string) {
	t.Helper()
	folder := os.Getenv(duckdbVariable)
	if _, err := os.Stat(filepath.Join(folder, "node_modules", "@duckdb", "node-api")); folder == "" || err != nil {
		datasettest.Missing(t, "DuckDB", duckdbInstall)
	}
	node = datasettest.RequireTool(t, "node", "install Node.js")
	modules, err := filepath.Abs(filepath.Join(folder, "node_modules"))
	if err != nil {
		t.Fatal(err)
	}
	return node, modules
}

// queryDuckDB reads a corpus with DuckDB, an engine of its own, and returns
// what testdata/duckdb/query.js asks of each table.
func queryDuckDB(t *testing.T, dir string) map[string][]map[string]any {
	t.Helper()
	node, modules := duckDB(t)
	cmd := exec.Command(node, filepath.Join("testdata", "duckdb", "query.js"), filepath.ToSlash(dir))
	cmd.Env = append(os.Environ(), "NODE_PATH="+modules)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("node: %v", err)
	}
	var answers map[string][]map[string]any
	if err := json.Unmarshal(out, &answers); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return answers
}

// TestDuckDB: another engine reads every table in place, over rigs with and
// without a gyroscope, and agrees on counts and sums.
func TestDuckDB(t *testing.T) {
	c := fixture(t)
	addSession(t, c, "long", testRig(t, "attic", false), rowGroupRows+5000, 4)
	answers := queryDuckDB(t, c.Dir())
	same := func(table, session, column string, got, want any) {
		t.Helper()
		a, aok := got.(float64)
		b, bok := want.(float64)
		if aok && bok && math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) { // sums in another order
			return
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s of %s: %s is %v, want %v", table, session, column, got, want)
		}
	}
	rows, err := c.Sessions()
	if err != nil {
		t.Fatal(err)
	}
	for table, answer := range answers {
		if table != "meta" && len(answer) != len(rows) {
			t.Fatalf("%s: %d sessions, want %d", table, len(answer), len(rows))
		}
	}
	for i, s := range rows {
		sig, err := c.Signal(t.Context(), s.Name)
		if err != nil {
			t.Fatal(err)
		}
		strikes, _, err := c.Strikes(s.Name)
		if err != nil {
			t.Fatal(err)
		}
		gyro := 0.0
		if s.HasGyro {
			gyro = float64(sig.Len())
		}
		expected := map[string]map[string]any{
			"samples": {
				"rig": s.Rig, "session": s.Name, "n": float64(sig.Len()), "t_ns": sumInts(sig.TNs), "t_raw": sumInts(sig.TRaw),
				"segment": float64(s.Segments - 1), "ax": sumFloats(sig.A[0]), "ay": sumFloats(sig.A[1]), "az": sumFloats(sig.A[2]),
				"gyro": gyro, "gx": sumFloats(sig.G[0]), "gy": sumFloats(sig.G[1]), "gz": sumFloats(sig.G[2]),
			},
			"sessions": {
				"rig": s.Rig, "session": s.Name, "samples": float64(s.Samples), "has_gyro": s.HasGyro, "rate_hz": s.RateHz, "repair": "wrap",
			},
			"windows": {"session": s.Name, "n": float64(len(strikes))},
			"labels":  {"session": s.Name, "n": float64(len(strikes)), "faces": float64(len(strikes) - 1), "not_strike": 1.0, "notes": 1.0, "preferred": float64(len(strikes) - 1)},
			"features": {
				"session": s.Name, "kick_x": float64(len(strikes)), "kick_y": 0.0, // NaN in Go is null here
			},
		}
		var number, clipped, onsetS, peak, face, bearing, height, rise float64
		var onsetNs int64
		for j, k := range strikes {
			number += float64(k.Number)
			onsetNs += k.OnsetNs
			onsetS += float64(k.OnsetNs) / 1e9
			peak += k.PeakMPS2
			rise += 1 / float64(j+1)
			if k.Clipped {
				clipped++
			}
		}
		for _, l := range testLabels(strikes) {
			face += float64(l.Face)
			if l.BearingDeg != nil {
				bearing += *l.BearingDeg
				height += *l.HeightM
			}
		}
		expected["windows"]["number"], expected["windows"]["onset_ns"], expected["windows"]["onset_s"] = number, fmt.Sprint(onsetNs), onsetS
		expected["windows"]["peak"], expected["windows"]["clipped"] = peak, clipped
		expected["labels"]["face"], expected["labels"]["bearing"], expected["labels"]["height"] = face, bearing, height
		expected["features"]["rise_ms"] = rise
		for table, columns := range expected {
			if len(columns) != len(answers[table][i]) {
				t.Errorf("%s: %d columns, want %d", table, len(answers[table][i]), len(columns))
			}
			for column, want := range columns {
				same(table, s.Name, column, answers[table][i][column], want)
			}
		}
	}
	if groups := answers["meta"][0]["groups"]; groups != 2.0 {
		t.Errorf("%v row groups in the longest file, want 2", groups)
	}
	if bounds := answers["meta"][0]["bounds"]; bounds != 5.0 {
		t.Errorf("%v row groups with bounds of t_ns, want all 5", bounds)
	}
}

// TestDuckDBSkips: what an engine skips by the bounds of row groups and the names of
// folders is none of what it was asked for.
func TestDuckDBSkips(t *testing.T) {
	c := newCorpus(t)
	addSession(t, c, "long", testRig(t, "garage", true), 2*rowGroupRows+5000, 4)
	addSession(t, c, "short", testRig(t, "attic", false), 3000, 5)
	long, err := c.Signal(t.Context(), "long")
	if err != nil {
		t.Fatal(err)
	}
	short, err := c.Signal(t.Context(), "short")
	if err != nil {
		t.Fatal(err)
	}
	count := func(in func(sig *dataset.Signal, i int) bool, of ...*dataset.Signal) (n int) {
		for _, sig := range of {
			for i := range sig.TNs {
				if in(sig, i) {
					n++
				}
			}
		}
		return n
	}
	every := func(*dataset.Signal, int) bool { return true }
	const edge = rowGroupRows * 1_000_000 // ns, of the first sample of the second row group
	high, low := slices.Max(long.A[0]), slices.Min(long.A[0])
	var queries []string
	var want []string
	for _, q := range []struct {
		where string
		rows  int
	}{
		{fmt.Sprintf("t_ns = %d", edge), 1},
		{fmt.Sprintf("t_ns BETWEEN %d AND %d", edge-10_000_000, edge+10_000_000), 21},
		{fmt.Sprintf("t_ns >= %d", 2*edge), 5000},
		{fmt.Sprintf("ax_mps2 >= %v", high), count(func(sig *dataset.Signal, i int) bool { return sig.A[0][i] >= high }, long, short)},
		{fmt.Sprintf("ax_mps2 = %v::FLOAT", low), count(func(sig *dataset.Signal, i int) bool { return sig.A[0][i] == low }, long, short)},
		{"gx_radps IS NULL", count(every, short)},
		{"gx_radps > 0", count(func(sig *dataset.Signal, i int) bool { return sig.G[0][i] > 0 }, long)},
		{fmt.Sprintf("segment = %d", long.Segment[rowGroupRows]), count(func(sig *dataset.Signal, i int) bool { return sig.Segment[i] == long.Segment[rowGroupRows] }, long)},
		{"rig = 'attic-r1'", count(every, short)},
		{"session = 'long'", count(every, long)},
		{"session = 'monday'", 0},
	} {
		queries = append(queries, "SELECT count(*) AS n FROM 'samples/**/*.parquet' WHERE "+q.where)
		want = append(want, strconv.Itoa(q.rows))
	}
	for i, rows := range runSQL(t, c.Dir(), queries) {
		if got := rows[0]["n"]; got != want[i] {
			t.Errorf("%s: %v, want %s", queries[i], got, want[i])
		}
	}
}

func sumInts(v []int64) string {
	var sum int64
	for _, x := range v {
		sum += x
	}
	return fmt.Sprint(sum)
}

func sumFloats(v []float32) float64 {
	var sum float64
	for _, x := range v {
		sum += float64(x)
	}
	return sum
}
