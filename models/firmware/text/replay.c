/* Reads a log of counts, a sample a line, and prints its events.

   cc -std=c99 -o replay replay.c strikerose.c -lm && ./replay < log.csv

   A line is t_us,ax,ay,az or t_us,ax,ay,az,gx,gy,gz: the board's stamp in
   microseconds, then counts. Lines that are anything else, as headers, are passed
   over; where all are, the log is refused. An event is
   t_raw,number,stage,bearing_ddeg,face,height_mm,flags: the same bytes as
   `strikerose apply --profile ... --events` writes for the log. */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "strikerose.h"

static void print(const strikerose_event_t *e)
{
	printf("%lu,%lu,%u,%u,%u,%d,%u\n", (unsigned long)e->t_raw, (unsigned long)e->number, (unsigned)e->stage,
		(unsigned)e->bearing_ddeg, (unsigned)e->face, (int)e->height_mm, (unsigned)e->flags);
}

/* Reads the numbers of a line; returns how many, or 0 where there is something else. */
static int numbers(const char *at, long long value[7])
{
	int n = 0;

	for (;;) {
		char *end;

		if (n == 7) {
			return 0;
		}
		value[n] = strtoll(at, &end, 10);
		if (end == at) {
			return 0;
		}
		n++;
		at = end;
		while (*at == ' ' || *at == '\t' || *at == '\r' || *at == '\n') {
			at++;
		}
		if (*at == '\0') {
			return n;
		}
		if (*at != ',' && *at != ';') {
			return 0;
		}
		at++;
	}
}

/* Makes a sample of a line; returns 0 where it is none. */
static int sample(const char *line, strikerose_sample_t *s)
{
	long long value[7] = {0, 0, 0, 0, 0, 0, 0};
	int n = numbers(line, value);

	if (n != 4 && n != 7) {
		return 0;
	}
	for (int k = 1; k < n; k++) {
		if (value[k] < -32768 || value[k] > 32767) {
			return 0;
		}
	}
	s->t_us = (uint32_t)(unsigned long long)value[0];
	for (int k = 0; k < 3; k++) {
		s->a[k] = (int16_t)value[1 + k];
		s->g[k] = (int16_t)value[4 + k];
	}
	return 1;
}

int main(void)
{
	static strikerose_t detector;
	char line[256];
	strikerose_event_t e;
	int any = 0;
	int more;
	int status = strikerose_init(&detector);

	if (status != STRIKEROSE_READY) {
		fprintf(stderr, "the table does not fit the code or is damaged: %d\n", status);
		return 1;
	}
	while (fgets(line, (int)sizeof line, stdin) != NULL) {
		strikerose_sample_t s;

		if (strchr(line, '\n') == NULL && strlen(line) == sizeof line - 1) { /* too long to be a sample */
			while (fgets(line, (int)sizeof line, stdin) != NULL && strchr(line, '\n') == NULL) {
			}
			continue;
		}
		if (!sample(line, &s)) {
			continue;
		}
		any = 1;
		for (more = strikerose_push(&detector, &s, &e); more; more = strikerose_next(&detector, &e)) {
			print(&e);
		}
	}
	for (more = strikerose_flush(&detector, &e); more; more = strikerose_next(&detector, &e)) {
		print(&e);
	}
	if (!any) {
		fprintf(stderr, "no line is a sample: write t_us,ax,ay,az or t_us,ax,ay,az,gx,gy,gz, all in counts\n");
		return 1;
	}
	return 0;
}
