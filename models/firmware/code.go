package firmware

import (
	"fmt"
	"strings"
)

// Names of the exported files.
const (
	fileTable   = "table.json"
	fileHeader  = "strikerose_model.h"
	fileNumbers = "strikerose_table.h"
	fileCode    = "strikerose_model.c"
	fileVectors = "vectors.h"
	fileCheck   = "check.c"
)

// title opens every file of C.
func title(w *cWriter, t *Table, what string) {
	form := ""
	if t.Form != "" {
		form = " (form " + t.Form + ")"
	}
	w.comment(fmt.Sprintf("%s of the detector %s%s for rig %s. Written by strikerose; do not edit, export again.", what, t.Detector, form, t.Rig.Key))
}

// header writes strikerose_model.h: what a program on the board calls.
func (p *program) header(t *Table) []byte {
	w := &cWriter{}
	title(w, t, "Interface")
	w.line("#ifndef STRIKEROSE_MODEL_H")
	w.line("#define STRIKEROSE_MODEL_H")
	w.line("")
	w.line("#include <stdint.h>")
	w.line("")
	w.line("#ifdef __cplusplus")
	w.line(`extern "C" {`)
	w.line("#endif")
	w.line("")
	w.comment("Features of one strike, in the order in which strikerose_estimate takes them. Frame of the bag: x toward bearing 90, y toward bearing 0, z up. Times are milliseconds after the onset of the strike.")
	w.line("enum {")
	w.depth++
	for i, in := range p.inputs {
		w.comment(fmt.Sprintf("%s; reads %g to %g ms", in.column.Doc+unitOf(in.column.Unit), in.def.FromMs, in.def.ToMs))
		w.line("%s = %d,", in.cName(), i)
	}
	w.comment("number of features")
	w.line("%s = %d,", featuresSize, len(p.inputs))
	w.comment("so many, from the first, are needed: without one of them the answer is a guess. The others only say how sure it is")
	w.line("%s = %d", neededSize, p.needed)
	w.depth--
	w.line("};")
	w.line("")
	w.comment(fmt.Sprintf("All features can be had so many milliseconds after the onset: %g.", t.WaitMs))
	w.line("")
	w.comment("Where the strike landed.")
	w.line("typedef struct {")
	w.depth++
	for _, f := range []struct{ field, doc string }{
		{"float bearing_deg", "degrees clockwise seen from above, from the middle of face 1; 0 or more, below 360"},
		{"float height_m", "metres above the bag's bottom edge"},
		{"float bearing_sd_deg", "circular standard deviation of the bearing, degrees"},
		{"float bearing_half90_deg", "half of the bearing's 90 % interval, degrees, at most 180"},
		{"float height_sd_m", "standard deviation of the height, metres"},
		{"float height_half90_m", "half of the height's 90 % interval, metres"},
		{"int face", fmt.Sprintf("1 to %d, clockwise", t.Rig.Faces)},
		{"int unsure", "1: the interval is wider than a face, the strike is weak, or a feature is missing"},
	} {
		w.comment(f.doc)
		w.line("%s;", f.field)
	}
	w.depth--
	w.line("} strikerose_answer;")
	w.line("")
	w.comment("Answers for one strike. A feature without a value is NAN (math.h). Every input gives a finite bearing and height. Uses no heap, no recursion and no state. Does not compile with -ffast-math, which would break the tests for NAN.")
	w.line("void strikerose_estimate(const float feature[%s], strikerose_answer *answer);", featuresSize)
	w.line("")
	w.comment("Checksum of the numbers as the board holds them; STRIKEROSE_TABLE_CRC32 is what it must be. " + checksumKind + " over " + checksumOver + " (table.json).")
	w.line("uint32_t strikerose_table_crc32(void);")
	w.line("#define STRIKEROSE_TABLE_VERSION %d", t.Version)
	w.line("#define STRIKEROSE_TABLE_CRC32 UINT32_C(%s)", t.Checksum.Value)
	w.line("")
	w.line("#ifdef __cplusplus")
	w.line("}")
	w.line("#endif")
	w.line("")
	w.line("#endif")
	return []byte(w.String())
}

func unitOf(unit string) string {
	if unit == "" {
		return " (no unit)"
	}
	return " (" + unit + ")"
}

// numbers writes strikerose_table.h: the numbers alone.
func (p *program) numbers(t *Table) []byte {
	w := &cWriter{}
	title(w, t, "Numbers")
	w.comment("The same as in table.json. Only strikerose_model.c includes this file.")
	w.line("#ifndef STRIKEROSE_TABLE_H")
	w.line("#define STRIKEROSE_TABLE_H")
	w.line("")
	w.line("#include <stdint.h>")
	w.line("")
	w.line("enum {")
	w.depth++
	for i, s := range p.sizes {
		comma := ","
		if i == len(p.sizes)-1 {
			comma = ""
		}
		w.line("%s = %d%s /* %s */", s.name, s.n, comma, s.doc)
	}
	w.depth--
	w.line("};")
	for _, a := range t.Numbers {
		w.line("")
		doc := a.Doc
		if a.Unit != "" {
			doc += unitOf(a.Unit)
		}
		w.comment(doc)
		kind := "float"
		if a.Type == typeInt16 {
			kind = "int16_t"
		}
		if a.scalar() {
			w.line("static const %s %s = %s;", kind, a.Name, a.literal(0))
			continue
		}
		w.line("static const %s %s[%s] = {", kind, a.Name, strings.Join(a.Over, " * "))
		w.depth++
		var row string
		for i := range a.Values {
			item := a.literal(i)
			if i < len(a.Values)-1 {
				item += ","
			}
			if row != "" && len(row)+1+len(item) > 72 {
				w.line("%s", row)
				row = ""
			}
			if row != "" {
				row += " "
			}
			row += item
		}
		w.line("%s", row)
		w.depth--
		w.line("};")
	}
	w.line("")
	w.line("#endif")
	return []byte(w.String())
}

// literal writes the i-th number in C.
func (a Array) literal(i int) string {
	if a.Type == typeInt16 {
		return fmt.Sprintf("%d", int(a.Values[i]))
	}
	return floatLiteral(float64(a.Values[i]))
}

// code writes strikerose_model.c.
func (p *program) code(t *Table) []byte {
	w := &cWriter{}
	title(w, t, "Arithmetic")
	w.line(`#include "%s"`, fileHeader)
	w.line(`#include "%s"`, fileNumbers)
	w.line("")
	w.line("#include <math.h>")
	w.line("")
	w.line("#if defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__")
	w.line(`#error "compile without -ffast-math: the tests for NAN would vanish"`)
	w.line("#endif")
	w.line("")
	w.line("void strikerose_estimate(const float feature[%s], strikerose_answer *answer)", featuresSize)
	w.line("{")
	body := &cWriter{}
	block(body, p.steps)
	w.WriteString(strings.TrimPrefix(body.String(), "\n"))
	w.line("}")
	w.line("")
	w.comment("Takes four bytes, lowest first, into a CRC-32 (reflected polynomial 0xEDB88320).")
	w.WriteString(`static uint32_t crc32_word(uint32_t crc, uint32_t word)
{
    for (int i = 0; i < 4; i++) {
        crc ^= (word >> (8 * i)) & UINT32_C(0xFF);
        for (int bit = 0; bit < 8; bit++) {
            crc = (crc & 1U) ? (crc >> 1) ^ UINT32_C(0xEDB88320) : crc >> 1;
        }
    }
    return crc;
}

static uint32_t crc32_floats(uint32_t crc, const float *number, int count)
{
    union {
        float number;
        uint32_t bits;
    } as;

    for (int i = 0; i < count; i++) {
        as.number = number[i];
        crc = crc32_word(crc, as.bits);
    }
    return crc;
}
`)
	integers := false
	for _, a := range t.Numbers {
		integers = integers || a.Type == typeInt16
	}
	if integers {
		w.WriteString(`
static uint32_t crc32_integers(uint32_t crc, const int16_t *number, int count)
{
    for (int i = 0; i < count; i++) {
        crc = crc32_word(crc, (uint32_t)(int32_t)number[i]);
    }
    return crc;
}
`)
	}
	w.line("")
	w.line("uint32_t strikerose_table_crc32(void)")
	w.line("{")
	w.depth++
	w.line("uint32_t crc = UINT32_C(0xFFFFFFFF);")
	w.line("")
	for _, a := range t.Numbers {
		function := "crc32_floats"
		if a.Type == typeInt16 {
			function = "crc32_integers"
		}
		if a.scalar() {
			w.line("crc = %s(crc, &%s, 1);", function, a.Name)
		} else {
			w.line("crc = %s(crc, %s, %s);", function, a.Name, strings.Join(a.Over, " * "))
		}
	}
	w.line("return ~crc;")
	w.depth--
	w.line("}")
	return []byte(w.String())
}
