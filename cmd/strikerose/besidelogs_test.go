package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/report"
)

// What is no log is told by its header, however the file is called, its columns
// ordered or separated.
func TestBesideLogs(t *testing.T) {
	dir := t.TempDir()
	header := func(columns []string) string { return strings.Join(columns, ",") + "\n" }
	var compared strings.Builder
	if err := report.CSV(&compared, &eval.Comparison{}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, text, want string }{
		{"a.csv", "order,face,band,kind\n1,2,mid,hook\n", "plan"},
		{"a.csv", "\xef\xbb\xbfface;band;kind;order\r\n2;mid;hook;1\r\n", "plan"},
		{"a.txt", "# of friday\nkind\torder\tface\tband\tcall_s\n", "plan"},
		{"a.csv", "time_s,bearing_deg,height_m\n1,2,0.5\n", "truth"},
		{"a.csv", "time,text\n1:02,\"face 2, low\nand left\"\n", "table of notes from a video"},
		{"a.csv", header(doubtColumns[:]), "table of doubts"},
		{"a.csv", "session,number,onset_s,kick_x\n", "table of features"},
		{"a.csv", "column,unit,meaning\n", "list of features"},
		{"a.csv", header(labelColumns[:]), "table of strikes"},
		{"a.csv", header(applyColumns[:]), "table of strikes"},
		{"a.csv", "session,name,unit,of,trained,now,distance\n", "table of drift"},
		{"a.csv", compared.String(), "comparison"},
		{"plan-of-truth.csv", "t_us,ax,ay,az\n1,2,3,4\n", ""},
		{"a.csv", "order,face\n1,2\n", ""},
		{"a.bin", "\xa5\x5a\x00\x01order,face,band,kind", ""},
		{"a.csv", "", ""},
		{"a.toml", "name = \n", ""},
		{"a.json", `{"t":1,"a":[1,2,3]}`, ""},
	} {
		path := filepath.Join(dir, c.name)
		if err := os.WriteFile(path, []byte(c.text), 0o666); err != nil {
			t.Fatal(err)
		}
		if kind, ok := besideLogs(path); ok != (c.want != "") || ok && kind.one != c.want {
			t.Errorf("%s with %q: %q, %v, want %q", c.name, c.text, kind.one, ok, c.want)
		}
	}
}

func TestBesideSaysWhoReads(t *testing.T) {
	for kind, want := range map[string]string{
		planBeside.why():                "is a plan, not a log: strikerose label plan reads it",
		beside{one: "comparison"}.why(): "is a comparison, not a log",
	} {
		if kind != want {
			t.Errorf("%q, want %q", kind, want)
		}
	}
}
