package firmware

import (
	"fmt"
	"hash/crc32"
	"io/fs"
	"regexp"
	"strings"

	"strikerose/features/chain/board"
	"strikerose/features/chain/fixed"
	"strikerose/models/firmware/answer"
	"strikerose/models/firmware/translate"
)

// program is a device's C with what its table must hold.
type program struct {
	*translate.Result
	layout uint32 // of the table: sizes, fields and what is fixed in the code
	sizes  []size
}

// size is a length that the C's arrays have.
type size struct {
	name string
	n    int
	doc  string
}

// packages lists what is translated, imports first.
func packages() ([]translate.Package, error) {
	var out []translate.Package
	for _, p := range []struct {
		path, part string
		source     fs.FS
	}{
		{"strikerose/features/chain/fixed", "fixed", fixed.Source()},
		{"strikerose/features/chain/board", "", board.Source()},
		{"strikerose/models/firmware/answer", "", answer.Source()},
	} {
		names, err := fs.Glob(p.source, "*.go")
		if err != nil {
			return nil, err
		}
		pkg := translate.Package{Path: p.path, Part: p.part}
		for _, name := range names {
			text, err := fs.ReadFile(p.source, name)
			if err != nil {
				return nil, err
			}
			pkg.Files = append(pkg.Files, translate.File{Name: name, Text: string(text)})
		}
		out = append(out, pkg)
	}
	return out, nil
}

// fixedFields are settled in the code, so that it holds no branch that this
// detector never takes.
func (v *Device) fixedFields() map[string]int64 {
	t := &v.Table
	return map[string]int64{
		"answer.Table.Kind": int64(t.Kind), "answer.Table.Direction": int64(t.Direction), "answer.Table.Sooner": int64(t.Sooner),
		"answer.Table.Sine": int64(t.Sine), "answer.Table.HasHeight": int64(t.HasHeight), "answer.Table.Floats": int64(t.Floats),
		"board.Table.Gyro": int64(t.Chain.Gyro), "board.Table.Level": int64(t.Chain.Level), "board.Table.Measured": int64(t.Chain.Measured),
		"board.Table.SortX": int64(t.Chain.SortX), "board.Table.SortY": int64(t.Chain.SortY), "board.Table.SortUp": int64(t.Chain.SortUp), "board.Table.Turned": int64(t.Chain.Turned),
	}
}

// Names of the sizes in C.
func (v *Device) allSizes() []size {
	t := &v.Table
	return []size{
		{"STRIKEROSE_RING", v.Ring, "samples that the ring keeps"},
		{"STRIKEROSE_STRETCHES", len(t.Stretches), "stretches of time that are summed"},
		{"STRIKEROSE_ITEMS", len(t.Items), "features that are aligned"},
		{"STRIKEROSE_ALIGNED", len(t.Mean), "numbers that they give"},
		{"STRIKEROSE_UNITS", len(t.HiddenBias), "units of the nets"},
		{"STRIKEROSE_HIDDEN", len(t.Hidden), "weights of the units"},
		{"STRIKEROSE_NODES", len(t.Nodes), "nodes of the trees"},
	}
}

// One table serves one detector: in C its numbers are named, not pointed to, so
// that the compiler can take those that are single into the code.
var (
	tableFields = regexp.MustCompile(`(?m)^\tconst strikerose_\w*table_t \*table;.*\n`)
	chainTable  = regexp.MustCompile(`\bc->table\b`)
	ownTable    = regexp.MustCompile(`\bd->table\b`)
)

// functionText is a whole function that begins with a pointer to chain or
// detector.
var functionText = regexp.MustCompile(`(?ms)^[a-z][^\n;]*\([^\n]*\*([cd])[,)][^\n]*\n\{\n.*?^\}\n`)

var (
	usesChain    = regexp.MustCompile(`\bc\b`)
	usesDetector = regexp.MustCompile(`\bd\b`)
)

// useParameter marks the pointer as unused where only the table was reached
// through it.
func useParameter(function string) string {
	head, body, _ := strings.Cut(function, "\n{\n")
	name, uses := "d", usesDetector
	if functionText.FindStringSubmatch(function)[1] == "c" {
		name, uses = "c", usesChain
	}
	if uses.MatchString(body) {
		return function
	}
	return head + "\n{\n\t(void)" + name + ";\n" + body
}

// translate writes the C.
func (v *Device) translate() (*program, error) {
	list, err := packages()
	if err != nil {
		return nil, err
	}
	r, err := translate.Translate(translate.Program{
		Prefix: "strikerose", Packages: list,
		Public: []translate.Name{
			{Go: "answer.Detector.Start", C: "strikerose_restart"}, {Go: "answer.Detector.Push", C: "strikerose_push"},
			{Go: "answer.Detector.Next", C: "strikerose_next"}, {Go: "answer.Detector.Flush", C: "strikerose_flush"},
		},
		Types: []translate.Name{
			{Go: "answer.Event", C: "strikerose_event_t"}, {Go: "board.Sample", C: "strikerose_sample_t"},
			{Go: "answer.Detector", C: "strikerose_t"}, {Go: "answer.Table", C: "strikerose_table_t"}, {Go: "board.Table", C: "strikerose_chain_table_t"},
		},
		Fixed: v.fixedFields(),
	})
	if err != nil {
		return nil, fmt.Errorf("writing C: %w", err)
	}
	r.Header = tableFields.ReplaceAllString(r.Header, "")
	r.Code = chainTable.ReplaceAllString(r.Code, "(&strikerose_table.chain)")
	r.Code = ownTable.ReplaceAllString(r.Code, "(&strikerose_table)")
	r.Code = functionText.ReplaceAllStringFunc(r.Code, useParameter)
	p := &program{Result: r}
	for _, m := range r.Macros {
		for _, s := range v.allSizes() {
			if s.name == m {
				p.sizes = append(p.sizes, s)
			}
		}
	}
	if len(p.sizes) != len(r.Macros) {
		return nil, fmt.Errorf("writing C: sizes %s, of which %d are known", strings.Join(r.Macros, ", "), len(p.sizes))
	}
	p.layout = crc32.ChecksumIEEE([]byte(fmt.Sprint(p.sizes) + r.Header + r.Code))
	return p, nil
}
