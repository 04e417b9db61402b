/* Runs the detector over a stream in the board's flash, prints its events, then
 * what the work cost:
 *
 *     cost SAMPLES HIGH LOW PLAIN EVENT STACK EMPTY
 *
 * in the units of board_count: the sum over samples without an event in two halves
 * of 32 bits, the most for one of them, the most for a sample with an event, the
 * bytes of stack, and what counting itself costs. Where the stack has reached the
 * variables it prints a line with ! instead. */
#include "board.h"
#include "strikerose.h"
#include "stream.h"

static strikerose_t detector;
static uint32_t plain, high, low, most_plain, most_event, empty;

static void number(uint32_t x)
{
	char text[11];
	char *at = text + sizeof text - 1;
	*at = 0;
	do {
		*--at = (char)('0' + x % 10u);
		x /= 10u;
	} while (x != 0u);
	while (*at != 0) {
		board_put(*at++);
	}
}

static void print(const strikerose_event_t *e)
{
	number(e->t_raw);
	board_put(',');
	number(e->number);
	board_put(',');
	number(e->stage);
	board_put(',');
	number(e->bearing_ddeg);
	board_put(',');
	number(e->face);
	board_put(',');
	if (e->height_mm < 0) {
		board_put('-');
	}
	number((uint32_t)(e->height_mm < 0 ? -e->height_mm : e->height_mm));
	board_put(',');
	number(e->flags);
	board_put('\n');
}

static void drain(int more, strikerose_event_t *e)
{
	for (; more; more = strikerose_next(&detector, e)) {
		print(e);
	}
}

static void trial(void)
{
	strikerose_event_t e;
	for (uint32_t i = 0; i < STREAM_SAMPLES; i++) {
		strikerose_sample_t s;
		stream_read(i, &s);
		uint32_t start = board_count();
		int more = strikerose_push(&detector, &s, &e);
		uint32_t used = (board_count() - start) & 0xffffffu;
		if (more) {
			most_event = used > most_event ? used : most_event;
		} else {
			plain++;
			low += used;
			high += low < used;
			most_plain = used > most_plain ? used : most_plain;
		}
		drain(more, &e);
	}
	drain(strikerose_flush(&detector, &e), &e);
}

enum { paint = 0xa5, margin = 64 };

int main(void)
{
	unsigned char here;
	unsigned char *end = board_memory_end();
	unsigned char *top = (unsigned char *)((uintptr_t)&here - margin);
	for (unsigned char *p = end; p < top; p++) {
		*(volatile unsigned char *)p = paint;
	}
	uint32_t start = board_count();
	empty = (board_count() - start) & 0xffffffu;
	if (strikerose_init(&detector) != 0) {
		board_put('!');
		board_put('\n');
		return 1;
	}
	trial();
	unsigned char *deepest = end;
	while (deepest < top && *(volatile unsigned char *)deepest == paint) {
		deepest++;
	}
	if (deepest == end) {
		board_put('!');
		board_put('\n');
		return 1;
	}
	uint32_t values[] = {plain, high, low, most_plain, most_event, (uint32_t)((uintptr_t)&here - (uintptr_t)deepest), empty};
	board_put('c');
	board_put('o');
	board_put('s');
	board_put('t');
	for (unsigned i = 0; i < sizeof values / sizeof values[0]; i++) {
		board_put(' ');
		number(values[i]);
	}
	board_put('\n');
	return 0;
}
