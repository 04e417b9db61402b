package firmware

import (
	"embed"
	"fmt"
	"math"
	"strings"

	"strikerose/features/chain/board"
)

//go:embed text
var text embed.FS

// Names of the exported files.
const (
	fileHeader  = "strikerose.h"
	fileCode    = "strikerose.c"
	fileNumbers = "strikerose_table.h"
	fileTable   = "table.json"
	fileVectors = "vectors.h"
	fileCheck   = "check.c"
	fileReplay  = "replay.c"
	fileExample = "example.c"
	fileReadme  = "README.txt"
)

func piece(name string) string {
	b, err := text.ReadFile("text/" + name)
	if err != nil {
		panic(err) // embedded
	}
	return string(b)
}

// title opens a file of C.
func (v *Device) title(what string) string {
	form := ""
	if v.Form != "" {
		form = " (form " + v.Form + ")"
	}
	return fmt.Sprintf("// %s of the detector %s%s for rig %s, profile %s.\n// Written by strikerose; do not edit, export again.\n\n",
		what, v.Model.Info().Name, form, v.Rig.Key(), v.Profile)
}

func (v *Device) header(p *program) string {
	var b strings.Builder
	b.WriteString(v.title("Interface"))
	b.WriteString("#ifndef STRIKEROSE_H\n#define STRIKEROSE_H\n\n#include <stdint.h>\n\n#ifdef __cplusplus\nextern \"C\" {\n#endif\n\n")
	for _, s := range p.sizes {
		fmt.Fprintf(&b, "#define %s %d // %s\n", s.name, s.n, s.doc)
	}
	fmt.Fprintf(&b, "\n// The table must be made for this code: same sizes, same fields.\n#define STRIKEROSE_LAYOUT UINT32_C(0x%08X)\n\n", p.layout)
	b.WriteString(p.Header)
	b.WriteString(`
// What strikerose_init returns.
#define STRIKEROSE_READY 0
#define STRIKEROSE_OTHER_TABLE 1 // strikerose_table.h is not of this code
#define STRIKEROSE_DAMAGED_TABLE 2 // a number of it has changed

// Checks the table and makes the detector ready. Do not use it where this does not
// return STRIKEROSE_READY.
int strikerose_init(strikerose_t *d);

#ifdef __cplusplus
}
#endif

#endif
`)
	return b.String()
}

func (v *Device) code(p *program) string {
	var b strings.Builder
	b.WriteString(v.title("Chain and detector"))
	fmt.Fprintf(&b, "#include %q\n#include %q\n\n#include <string.h>\n", fileHeader, fileNumbers)
	if p.Math {
		b.WriteString("#include <math.h>\n")
	}
	b.WriteString("\n" + p.Code + "\n" + piece("init.c"))
	return b.String()
}

func (v *Device) numbers(p *program, entries []entry) string {
	var b strings.Builder
	b.WriteString(v.title("Numbers"))
	b.WriteString("// The same as in table.json, which says where they come from. Only strikerose.c\n// includes this file; one of another training can take its place.\n\n")
	b.WriteString("#ifndef STRIKEROSE_TABLE_H\n#define STRIKEROSE_TABLE_H\n\n#include \"" + fileHeader + "\"\n\n")
	fmt.Fprintf(&b, "static const uint32_t strikerose_table_layout = UINT32_C(0x%08X);\n", p.layout)
	fmt.Fprintf(&b, "static const uint16_t strikerose_table_crc = 0x%04Xu;\n\n", checksum(entries))
	b.WriteString("static const strikerose_table_t strikerose_table = {\n")
	in := ""
	for _, e := range entries {
		part, name, nested := strings.Cut(e.Name, ".")
		if !nested {
			part, name = "", e.Name
		}
		if part != in {
			if in != "" {
				b.WriteString("\t},\n")
			}
			if part != "" {
				b.WriteString("\t." + part + " = {\n")
			}
			in = part
		}
		indent := "\t"
		if part != "" {
			indent = "\t\t"
		}
		b.WriteString(folded(fmt.Sprintf("%s.%s = %s,", indent, name, e.text), indent+"\t") + "\n")
	}
	if in != "" {
		b.WriteString("\t},\n")
	}
	b.WriteString("};\n\n#endif\n")
	return b.String()
}

// folded breaks a long line at spaces.
func folded(line, indent string) string {
	const width = 96
	var b strings.Builder
	at := 0
	for i, word := range strings.Split(line, " ") {
		if i > 0 {
			if at+1+len(word) > width {
				b.WriteString("\n" + indent)
				at = len(indent)
			} else {
				b.WriteString(" ")
				at++
			}
		}
		b.WriteString(word)
		at += len(word)
	}
	return b.String()
}

// vectors writes the golden streams.
func (v *Device) vectors(samples []board.Sample, events []Answered, about string) string {
	var b strings.Builder
	b.WriteString(v.title("Golden streams"))
	fmt.Fprintf(&b, "// %s.\n// Only check.c includes this file.\n\n", about)
	turn, height := 0, 0
	if v.Profile == Float32 {
		turn, height = 1, 1 // mathematics of other libraries
	}
	b.WriteString("#ifndef STRIKEROSE_VECTORS_H\n#define STRIKEROSE_VECTORS_H\n\n#include \"" + fileHeader + "\"\n\n")
	fmt.Fprintf(&b, "#define VECTOR_SAMPLES %d\n#define VECTOR_EVENTS %d\n#define VECTOR_TURN_DDEG %d\n#define VECTOR_HEIGHT_MM %d\n\n", len(samples), len(events), turn, height)
	b.WriteString("static const strikerose_sample_t vector_sample[VECTOR_SAMPLES] = {\n")
	for _, s := range samples {
		fmt.Fprintf(&b, "\t{%du, {%d, %d, %d}, {%d, %d, %d}},\n", s.TUs, s.A[0], s.A[1], s.A[2], s.G[0], s.G[1], s.G[2])
	}
	b.WriteString("};\n\n// What must come out.\nstatic const strikerose_event_t vector_event[VECTOR_EVENTS] = {\n")
	for _, e := range events {
		b.WriteString(eventText(e) + "\n")
	}
	b.WriteString("};\n\n#endif\n")
	return b.String()
}

// eventText is an event as vectors.h holds it.
func eventText(e Answered) string {
	return fmt.Sprintf("\t{%du, %du, %d, %d, %d, %d, %d, %d, %d},", e.TRaw, e.Number, e.BearingDdeg, e.HeightMM, e.Peak, e.Stage, e.Face, e.Certainty, e.Flags)
}

// readme tells how to build it.
func (v *Device) readme(t *Table) string {
	r := v.Rig
	rates := fmt.Sprintf("%g samples a second, accelerometer +-%g g at %.6g counts a g", r.Sensor.RateHz, r.Sensor.AccelRangeG, 9.80665/v.units.AccelMPS2)
	if v.Table.Chain.Gyro != 0 {
		rates += fmt.Sprintf(", gyroscope +-%g degrees a second at %.6g counts a degree a second", r.Sensor.GyroRangeDPS, math.Pi/180/v.units.GyroRadps)
	} else {
		rates += "; no gyroscope is read"
	}
	return strings.NewReplacer("@DETECTOR@", v.Model.Info().Name, "@RIG@", r.Key(), "@PROFILE@", v.Profile, "@SENSOR@", wrap(rates, 78),
		"@RING@", fmt.Sprint(v.Ring), "@RINGBYTES@", fmt.Sprint(v.ringBytes()), "@TABLEBYTES@", fmt.Sprint(t.Bytes)).Replace(piece("README.txt"))
}

// ringBytes is the size of the sample buffer.
func (v *Device) ringBytes() int {
	each := 6 + 2
	if v.Table.Chain.Gyro != 0 {
		each += 6
	}
	return v.Ring * each
}

func wrap(s string, width int) string {
	var b strings.Builder
	at := 0
	for i, w := range strings.Fields(s) {
		switch {
		case i == 0:
		case at+1+len(w) > width:
			b.WriteString("\n")
			at = 0
		default:
			b.WriteString(" ")
			at++
		}
		b.WriteString(w)
		at += len(w)
	}
	return b.String()
}
