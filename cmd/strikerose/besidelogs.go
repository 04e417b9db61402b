package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/label/table"
)

// beside is a kind of file that people keep beside logs and that is none.
type beside struct {
	one, many string   // such files
	reader    string   // the command that reads them; "" none
	columns   []string // that the header names; none where it is no table
}

// why says why such a file is not imported.
func (b beside) why() string {
	if b.reader == "" {
		return fmt.Sprintf("is a %s, not a log", b.one)
	}
	return fmt.Sprintf("is a %s, not a log: strikerose %s reads it", b.one, b.reader)
}

var (
	rigBeside      = beside{one: "rig file", many: "rig files", reader: "import --rig"}
	detectorBeside = beside{one: "detector", many: "detectors", reader: "apply"}
	planBeside     = beside{"plan", "plans", "label plan", []string{"order", "face", "band", "kind"}}
)

// tablesBeside are the tables among them. No log has the columns of one, and of two
// whose columns a table has, it is the first.
var tablesBeside = []beside{
	planBeside,
	{"truth", "truths", "label truth", []string{"time_s", "bearing_deg", "height_m"}},
	{"table of notes from a video", "tables of notes from videos", "label video", []string{"time", "text"}},
	{"table of doubts", "tables of doubts", "", []string{"session", "onset_s", "kind_of_doubt"}},
	{"table of features", "tables of features", "", []string{"session", "number", "onset_s"}},
	{"list of features", "lists of features", "", []string{"column", "unit", "meaning"}},
	{"table of strikes", "tables of strikes", "label read", []string{"session", "onset_s"}},
	{"table of drift", "tables of drift", "", []string{"session", "trained", "now", "distance"}},
	{"comparison", "comparisons", "", []string{"detector", "measure", "value", "bound_sensor"}},
}

// beside tells what a file is that is no log; ok is false where it may be one.
func (l logFile) beside() (kind beside, ok bool) {
	if l.stream { // its first bytes can be read once
		return kind, false
	}
	return besideLogs(l.path)
}

// besideLogs tells from its first bytes what the file at path is that is no log; ok
// is false where it may be one.
func besideLogs(path string) (kind beside, ok bool) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".toml":
		_, err := rig.Load(path)
		return rigBeside, err == nil
	case ".json":
		return detectorBeside, isDetector(path)
	}
	head := startOf(path)
	if end := strings.LastIndexByte(head, '\n'); end > 0 {
		head = head[:end]
	}
	for _, kind := range tablesBeside {
		if _, err := table.Read(strings.NewReader(head), path, kind.columns...); err == nil {
			return kind, true
		}
	}
	return kind, false
}

// is tells whether two are one kind of file.
func (b beside) is(kind beside) bool { return b.one == kind.one }

// passedOver are files that were found in a directory of logs and are none, with
// their kinds.
type passedOver struct {
	paths []string
	kinds []beside
}

// apart takes out of logs what was found in directories and is none.
func apart(all []logFile) (logs []logFile, others passedOver) {
	for _, l := range all {
		if l.walked {
			if kind, ok := l.beside(); ok {
				others.paths, others.kinds = append(others.paths, l.name), append(others.kinds, kind)
				continue
			}
		}
		logs = append(logs, l)
	}
	return logs, others
}

// words counts and names them in one line.
func (p passedOver) words() string {
	var counts []string
	for _, kind := range append([]beside{rigBeside, detectorBeside}, tablesBeside...) {
		n := 0
		for _, k := range p.kinds {
			if k.is(kind) {
				n++
			}
		}
		switch {
		case n == 1:
			counts = append(counts, "1 "+kind.one)
		case n > 1:
			counts = append(counts, fmt.Sprintf("%d %s", n, kind.many))
		}
	}
	return fmt.Sprintf("%s: %s", strings.Join(counts, ", "), someOf(p.paths))
}
