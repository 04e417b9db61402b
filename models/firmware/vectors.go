package firmware

import (
	"fmt"
	"strings"
)

// vectorsHeader writes vectors.h.
func (p *program) vectorsHeader(t *Table, vectors []vector) []byte {
	w := &cWriter{}
	title(w, t, "Golden vectors")
	w.comment(fmt.Sprintf("Inputs as float32 and what strikerose answers to them in float64: %d real strikes, %d made up, %d extremes; %d left out, because they lie nearer to a threshold of the detector than float32 resolves. Only check.c includes this file.",
		t.Vectors.Recorded, t.Vectors.MadeUp, t.Vectors.Extreme, t.Vectors.LeftOut))
	w.line("#ifndef STRIKEROSE_VECTORS_H")
	w.line("#define STRIKEROSE_VECTORS_H")
	w.line("")
	w.line("#include <math.h>")
	w.line("")
	w.line(`#include "%s"`, fileHeader)
	w.line("")
	w.line("enum { VECTOR_COUNT = %d };", len(vectors))
	w.line("")
	w.comment("What the board gives, in the order of strikerose_model.h.")
	w.line("static const float vector_feature[VECTOR_COUNT][%s] = {", featuresSize)
	w.depth++
	for i, v := range vectors {
		var items []string
		for _, x := range v.in {
			items = append(items, floatLiteral(float64(x)))
		}
		comma := ","
		if i == len(vectors)-1 {
			comma = ""
		}
		w.line("/* %d: %s */", i, v.about)
		lines := wrap(strings.Join(items, ", "), 70)
		for j, l := range lines {
			before, after := " ", ""
			if j == 0 {
				before = "{"
			}
			if j == len(lines)-1 {
				after = "}" + comma
			}
			w.line("%s%s%s", before, l, after)
		}
	}
	w.depth--
	w.line("};")
	w.line("")
	w.comment("What must come out.")
	w.line("typedef struct {")
	w.line("    double bearing_deg, height_m, bearing_sd_deg, bearing_half90_deg, height_sd_m, height_half90_m;")
	w.line("    int face;   /* 0: too near an edge to tell */")
	w.line("    int unsure; /* -1: too near its threshold to tell */")
	w.line("} vector_answer;")
	w.line("")
	w.line("static const vector_answer vector_expected[VECTOR_COUNT] = {")
	w.depth++
	for i, v := range vectors {
		comma := ","
		if i == len(vectors)-1 {
			comma = ""
		}
		e := v.want
		w.line("{%s, %s, %s, %s, %s, %s, %d, %d}%s", doubleLiteral(e.BearingDeg), doubleLiteral(e.HeightM), doubleLiteral(e.BearingSDDeg),
			doubleLiteral(e.BearingHalf90Deg), doubleLiteral(e.HeightSDM), doubleLiteral(e.HeightHalf90M), v.face, v.unsure, comma)
	}
	w.depth--
	w.line("};")
	w.line("")
	w.line("#endif")
	return []byte(w.String())
}
