package translate_test

import (
	"fmt"
	"strings"
	"testing"

	"strikerose/models/firmware/translate"
)

const twoWays = `package board

// T chooses.
type T struct {
	Kind  uint8
	Deep  bool
	Left  int32 // read by kind 1
	Right int32 // read by kind 2
	Out   int32
}

func left(t *T) int32 { return t.Left }

func right(t *T) int32 { return t.Right }

// Run runs.
func Run(t *T) {
	switch t.Kind {
	case 1:
		// the left way
		t.Out = left(t)
	case 2:
		// the right way
		t.Out = right(t)
	default:
		t.Out = 0
	}
	if t.Deep && t.Kind == 1 {
		t.Out++
	} else if !t.Deep {
		t.Out--
	}
	x := int32(5)
	if t.Kind != 1 {
		t.Out += x
	}
}
`

// A fixed field takes its branches, functions and fields along.
func TestFixedFields(t *testing.T) {
	translated := func(fixed map[string]int64) (string, *translate.Result) {
		out, err := translate.Translate(translate.Program{
			Prefix:   "x",
			Packages: []translate.Package{{Path: "board", Files: []translate.File{{Name: "run.go", Text: twoWays}}}},
			Public:   []translate.Name{{Go: "board.Run", C: "x_run"}},
			Fixed:    fixed,
		})
		if err != nil {
			t.Fatal(err)
		}
		return out.Header + out.Code, out
	}
	for _, c := range []struct {
		name       string
		fixed      map[string]int64
		fields     string
		has, lacks string
	}{
		{"open", nil, "Kind Deep Left Right Out", "switch (t->kind)", "(void)x"},
		{"left, deep", map[string]int64{"board.T.Kind": 1, "board.T.Deep": 1}, "Left Out", "the left way|t->out++;|(void)x;", "right|switch|out--|+= x"},
		{"left, flat", map[string]int64{"board.T.Kind": 1, "board.T.Deep": 0}, "Left Out", "out--;", "out++|right"},
		{"right", map[string]int64{"board.T.Kind": 2}, "Deep Right Out", "the right way|if (!t->deep) {|out--;|t->out += x;", "left|out++|(void)x"},
		{"neither", map[string]int64{"board.T.Kind": 9}, "Deep Out", "t->out = 0;", "left|right"},
	} {
		text, out := translated(c.fixed)
		if got := strings.Join(out.Fields["board.T"], " "); got != c.fields {
			t.Errorf("%s: fields %q, want %q", c.name, got, c.fields)
		}
		for _, s := range strings.Split(c.has, "|") {
			if !strings.Contains(text, s) {
				t.Errorf("%s: no %q in\n%s", c.name, s, text)
			}
		}
		for _, s := range strings.Split(c.lacks, "|") {
			if strings.Contains(text, s) {
				t.Errorf("%s: %q in\n%s", c.name, s, text)
			}
		}
	}
}

const chosen = `package board

type T struct {
	Kind int8
	Deep bool
	Sum  int32
}

type Holder struct { T T }

func bump(x *int8) { *x = 3 }

func Run(t *T, h *Holder) {
	t.Sum++
	h.T.Sum++
`

// What is fixed is never given another value.
func TestFixedFieldsStay(t *testing.T) {
	for _, c := range []struct {
		name  string
		fixed int64
		body  string
		want  string // "" where it is translated
	}{
		{"literal", 1, "*t = T{Kind: ¦2}", "gets another value"},
		{"literal of what it is", 1, "*t = T{Kind: 1, Sum: 3}", ""},
		{"literal without it", 1, "*t = ¦T{Sum: 3}", "gets another value, 0"},
		{"literal without it, which is 0", 0, "*t = T{Sum: 3}", ""},
		{"literal around it", 1, "*h = ¦Holder{}", "gets another value, 0"},
		{"declared", 1, "var ¦x T\nt.Sum = x.Sum", "gets another value, 0"},
		{"declared around it", 1, "var ¦x [2]Holder\nt.Sum = x[1].T.Sum", "gets another value, 0"},
		{"copied", 1, "x := *t\nt.Sum = x.Sum + int32(x.Kind)", ""},
		{"written", 1, "¦t.Kind = 1", "is written"},
		{"written through a pointer", 1, "bump(¦&t.Kind)", "the address of fixed field"},
		{"of another type", 128, "t.Sum = int32(t.Kind)", "board.T.Kind, int8, is fixed to 128"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before, after, marked := strings.Cut(chosen+c.body+"\n}\n", "¦")
			_, err := translate.Translate(translate.Program{
				Prefix:   "x",
				Packages: []translate.Package{{Path: "board", Files: []translate.File{{Name: "run.go", Text: before + after}}}},
				Public:   []translate.Name{{Go: "board.Run", C: "x_run"}},
				Fixed:    map[string]int64{"board.T.Kind": c.fixed},
			})
			place := ""
			if marked {
				place = fmt.Sprintf("board/run.go:%d:%d: ", 1+strings.Count(before, "\n"), len(before)-strings.LastIndex(before, "\n"))
			}
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), place) || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("want %s%q, got %v", place, c.want, err)
			}
		})
	}
}

const global = `package board

// Table is read.
type Table struct {
	List []int32 ` + "`c:\"LIST\"`" + `
	N    int32
}

// D is the state.
type D struct {
	table *Table ` + "`c:\"const\"`" + `
	inner In
	sum   int32
}

// In holds the same table.
type In struct {
	table *Table ` + "`c:\"const\"`" + `
}

func (i *In) first() int32 { return i.table.List[0] }

func sum(t *Table) int32 { return t.N }

// Run runs.
func (d *D) Run() {
	for i := range d.table.List {
		d.sum += d.table.List[i]
	}
	d.sum += sum(d.table) + d.inner.first() + d.inner.table.N
}
`

// A table that is one in C is read by its name.
func TestGlobals(t *testing.T) {
	p := translate.Program{
		Prefix:   "x",
		Packages: []translate.Package{{Path: "board", Files: []translate.File{{Name: "run.go", Text: global}}}},
		Public:   []translate.Name{{Go: "board.D.Run", C: "x_run"}},
		Globals:  map[string]string{"board.D.table": "x_numbers", "board.In.table": "x_numbers"},
	}
	out, err := translate.Translate(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"d->sum += x_numbers.list[i];", "d->sum += sum(&x_numbers) + in_first(&d->inner) + x_numbers.n;",
		"(void)i;\n\treturn x_numbers.list[0];",
	} {
		if !strings.Contains(out.Code, want) {
			t.Errorf("no %q in\n%s", want, out.Code)
		}
	}
	if strings.Contains(out.Header, "*table") || !strings.Contains(out.Header, "x_table_t") {
		t.Errorf("the pointer stays, or the table's type does not:\n%s", out.Header)
	}
	if got := strings.Join(out.Fields["board.D"], " "); got != "inner sum" {
		t.Errorf("fields %q of the state", got)
	}
	p.Packages[0].Files[0].Text = strings.Replace(global, "func (d *D) Run() {", "func (d *D) Run() {\n\txNumbers := int32(1)\n\td.sum = xNumbers", 1)
	if _, err := translate.Translate(p); err == nil || !strings.Contains(err.Error(), "variable xNumbers hides global x_numbers") {
		t.Errorf("a variable hides the table: %v", err)
	}
	p.Globals = map[string]string{"board.D.sum": "x_numbers"}
	if _, err := translate.Translate(p); err == nil || !strings.Contains(err.Error(), "no pointer field board.D.sum to make global") {
		t.Errorf("a number is made global: %v", err)
	}
}
