/* Sends samples that no bag gives to the detector, for sanitizers to watch:
 *
 *     cc -fsanitize=address,undefined -o fuzz fuzz.c strikerose.c -lm && ./fuzz SAMPLES SEED
 *
 * Noise of every size, limits, blows on top; stamps late, lost, doubled, gone back
 * and wrapped. It prints how many events came. */
#include <stdio.h>
#include <stdlib.h>

#include "strikerose.h"

static uint64_t state;

/* xorshift64, Marsaglia 2003 */
static uint32_t any(void)
{
	state ^= state << 13;
	state ^= state >> 7;
	state ^= state << 17;
	return (uint32_t)(state >> 16);
}

static int16_t held(int32_t x)
{
	return (int16_t)(x > 32767 ? 32767 : x < -32768 ? -32768 : x);
}

int main(int argc, char **argv)
{
	static strikerose_t detector;
	strikerose_sample_t s = {0};
	strikerose_event_t e;
	int32_t blow[6] = {0};
	int32_t size = 1;
	uint32_t manner = 0;
	unsigned long events = 0;
	long samples = argc > 1 ? strtol(argv[1], NULL, 10) : 100000;
	state = (argc > 2 ? strtoull(argv[2], NULL, 10) : 1u) * 2654435769u + 1u;
	if (strikerose_init(&detector) != 0) {
		return 1;
	}
	for (long i = 0; i < samples; i++) {
		if (any() % 400u == 0u) {
			size = (int32_t)(1u << any() % 16u);
			for (int k = 0; k < 6; k++) {
				blow[k] = ((int32_t)(any() & 0xffffu) - 32768) >> (any() % 16u);
			}
		}
		if (any() % 20000u == 0u) {
			manner = any() % 5u;
		}
		s.t_us += 1000u + any() % 50u;
		if (manner == 1u && any() % 100u == 0u) {
			s.t_us += any() % 30000u;
		}
		if (manner == 2u) {
			uint32_t what = any() % 300u;
			s.t_us = what == 0u ? any() : what == 1u ? s.t_us - 2000u : what == 2u ? s.t_us + any() : s.t_us;
		}
		for (int k = 0; k < 6; k++) {
			int32_t x = blow[k] + (int32_t)(any() & 0xffffu) % (2 * size) - size;
			if (manner == 3u) {
				x = any() % 2u == 0u ? 32767 : -32768;
			} else if (manner == 4u) {
				x = blow[k] + (int32_t)(any() % 5u);
			}
			if (k < 3) {
				s.a[k] = held(x);
			} else {
				s.g[k - 3] = held(x);
			}
			blow[k] = blow[k] * 4 / 5;
		}
		for (int more = strikerose_push(&detector, &s, &e); more; more = strikerose_next(&detector, &e)) {
			events++;
			if (e.bearing_ddeg > 3599u || e.face == 0u || e.stage > 1u || e.height_mm < -1) {
				printf("an event that cannot be: bearing %u face %u stage %u height %d\n", (unsigned)e.bearing_ddeg,
					(unsigned)e.face, (unsigned)e.stage, (int)e.height_mm);
				return 1;
			}
		}
		if (any() % 100000u == 0u) {
			for (int more = strikerose_flush(&detector, &e); more; more = strikerose_next(&detector, &e)) {
				events++;
			}
		}
	}
	printf("%lu events\n", events);
	return 0;
}
