package firmware

import (
	"fmt"
	"strconv"
	"strings"
)

// doubleLiteral writes v as a C literal of type double.
func doubleLiteral(v float64) string {
	s := strconv.FormatFloat(v, 'g', 12, 64)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

// check writes check.c, a program that runs the golden vectors.
func (p *program) check(t *Table) []byte {
	w := &cWriter{}
	title(w, t, "Check")
	w.comment(fmt.Sprintf(`Runs the golden vectors, prints the worst differences, and exits with 1 if one is larger than %g or a number of the table is not what it was: cc -std=c99 -o check check.c strikerose_model.c -lm && ./check`, Tolerance))
	w.line("")
	w.comment(fmt.Sprintf("A bearing's difference is the one on the circle as a part of 360 degrees. Another figure's is relative to the expected one, which counts as %g metres or degrees where it is smaller.", leastRelative))
	fmt.Fprintf(w, checkText, floatText(Tolerance), floatText(leastRelative))
	return []byte(w.String())
}

func floatText(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

const checkText = `#include <math.h>
#include <stdio.h>

#include "strikerose_model.h"
#include "vectors.h"

#define TOLERANCE %s
#define LEAST %s

enum { FIGURES = 6 };

static const char *const figure_name[FIGURES] = {
    "bearing", "height", "bearing sd", "bearing half90", "height sd", "height half90"
};

static double on_circle(double got, double want)
{
    double d = fmod(fabs(got - want), 360.0);

    return (d > 180.0 ? 360.0 - d : d) / 360.0;
}

static double relative(double got, double want)
{
    double size = fabs(want);

    return fabs(got - want) / (size > LEAST ? size : LEAST);
}

int main(void)
{
    double worst[FIGURES] = {0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
    int where[FIGURES] = {0, 0, 0, 0, 0, 0};
    int faults = 0;

    for (int v = 0; v < VECTOR_COUNT; v++) {
        const vector_answer *want = &vector_expected[v];
        strikerose_answer got;
        double miss[FIGURES];

        strikerose_estimate(vector_feature[v], &got);
        miss[0] = on_circle((double)got.bearing_deg, want->bearing_deg);
        miss[1] = relative((double)got.height_m, want->height_m);
        miss[2] = relative((double)got.bearing_sd_deg, want->bearing_sd_deg);
        miss[3] = relative((double)got.bearing_half90_deg, want->bearing_half90_deg);
        miss[4] = relative((double)got.height_sd_m, want->height_sd_m);
        miss[5] = relative((double)got.height_half90_m, want->height_half90_m);
        for (int f = 0; f < FIGURES; f++) {
            if (!(miss[f] <= TOLERANCE)) { /* also where it is no number */
                printf("vector %%d: %%s differs by %%g\n", v, figure_name[f], miss[f]);
                faults++;
            }
            if (!(miss[f] <= worst[f])) {
                worst[f] = miss[f];
                where[f] = v;
            }
        }
        if (!(got.bearing_deg >= 0.0f && got.bearing_deg < 360.0f)) {
            printf("vector %%d: bearing %%g is outside 0 to 360\n", v, (double)got.bearing_deg);
            faults++;
        }
        if (want->face != 0 && got.face != want->face) {
            printf("vector %%d: face is %%d, not %%d\n", v, got.face, want->face);
            faults++;
        }
        if (want->unsure >= 0 && got.unsure != want->unsure) {
            printf("vector %%d: unsure is %%d, not %%d\n", v, got.unsure, want->unsure);
            faults++;
        }
    }
    printf("%%d golden vectors, worst differences:\n", (int)VECTOR_COUNT);
    for (int f = 0; f < FIGURES; f++) {
        printf("  %%-15s %%.2e in vector %%d\n", figure_name[f], worst[f], where[f]);
    }
    if (strikerose_table_crc32() != STRIKEROSE_TABLE_CRC32) {
        printf("the table's checksum is wrong: a number has changed\n");
        faults++;
    }
    if (faults > 0) {
        printf("%%d faults\n", faults);
        return 1;
    }
    printf("all within %%g\n", TOLERANCE);
    return 0;
}
`
