/* The least program that uses the detector: what it adds to an empty one is what
 * the detector takes. */
#include "board.h"
#include "strikerose.h"

static strikerose_t detector;

volatile int told; /* keeps the compiler from leaving the work out */

int main(void)
{
	strikerose_sample_t s = {0};
	strikerose_event_t e;
	told = strikerose_init(&detector);
	for (;;) {
		s.t_us = board_count();
		told = strikerose_push(&detector, &s, &e);
		told = strikerose_next(&detector, &e);
		told = strikerose_flush(&detector, &e);
	}
}
