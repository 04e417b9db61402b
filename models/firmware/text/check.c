/* Runs the golden streams of vectors.h and compares every event.

   cc -std=c99 -o check check.c strikerose.c -lm && ./check

   Exits with 1 where one differs. On a board without printf define
   STRIKEROSE_QUIET: then the exit status, or what check() returns, tells. */

#include "strikerose.h"
#include "vectors.h"

#ifndef STRIKEROSE_QUIET
#include <stdio.h>
#endif

static strikerose_t detector;
static int32_t events, faults;

static void told(int32_t number, const char *what)
{
	faults++;
#ifndef STRIKEROSE_QUIET
	printf("event %ld: %s\n", (long)number, what);
#else
	(void)number;
	(void)what;
#endif
}

/* Compares an event with the golden one; bearings and heights may differ by what
   the profile allows. */
static void compare(const strikerose_event_t *got)
{
	const strikerose_event_t *want;
	int32_t turn, height;

	if (events >= VECTOR_EVENTS) {
		told(events, "is one too many");
		return;
	}
	want = &vector_event[events];
	turn = (int32_t)got->bearing_ddeg - (int32_t)want->bearing_ddeg;
	turn = turn < 0 ? -turn : turn;
	turn = turn > 1800 ? 3600 - turn : turn;
	height = (int32_t)got->height_mm - (int32_t)want->height_mm;
	height = height < 0 ? -height : height;
	if (got->t_raw != want->t_raw || got->number != want->number || got->stage != want->stage) {
		told(events, "is another event");
	} else if (turn > VECTOR_TURN_DDEG) {
		told(events, "has another bearing");
	} else if (height > VECTOR_HEIGHT_MM) {
		told(events, "has another height");
	} else if (got->flags != want->flags || got->certainty != want->certainty || (turn == 0 && got->face != want->face)) {
		told(events, "has other flags");
	}
	events++;
}

static int check(void)
{
	strikerose_event_t e;
	int more;

	events = 0;
	faults = 0;
	if (strikerose_init(&detector) != STRIKEROSE_READY) {
		told(0, "the table does not fit the code or is damaged");
		return 1;
	}
	for (int32_t i = 0; i < VECTOR_SAMPLES; i++) {
		for (more = strikerose_push(&detector, &vector_sample[i], &e); more; more = strikerose_next(&detector, &e)) {
			compare(&e);
		}
	}
	for (more = strikerose_flush(&detector, &e); more; more = strikerose_next(&detector, &e)) {
		compare(&e);
	}
	if (events < VECTOR_EVENTS) {
		told(events, "is missing");
	}
	return faults != 0;
}

int main(void)
{
	int status = check();

#ifndef STRIKEROSE_QUIET
	printf("%ld samples, %ld events of %ld, %ld faults\n", (long)VECTOR_SAMPLES, (long)events, (long)VECTOR_EVENTS, (long)faults);
#endif
	return status;
}
