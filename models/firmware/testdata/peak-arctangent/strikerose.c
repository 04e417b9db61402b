// Chain and detector of the detector peak-arctangent for rig garage-r1, profile fixed.
// Written by strikerose; do not edit, export again.

#include "strikerose.h"
#include "strikerose_table.h"

#include <string.h>

// Signed numbers are of two's complement, and shift to the right by their sign.
typedef char strikerose_signed_numbers[(-1 >> 1) == -1 && (int32_t)0xffffffffu == -1 ? 1 : -1];

#define STRIKEROSE_FIXED_HALF_TURN 2147483648u

// Factors of a power of 2: 2^u = 1 + u (a + u (b + u (c + u (d + u e)))), Q30,
// within 3.1e-7 on 0 to 1 and exact at its ends.
#define STRIKEROSE_FIXED_POWER1 744262866
#define STRIKEROSE_FIXED_POWER2 257883723
#define STRIKEROSE_FIXED_POWER3 59927255
#define STRIKEROSE_FIXED_POWER4 9631670
#define STRIKEROSE_FIXED_POWER5 2036310

// Limits of the signed types.
#define STRIKEROSE_FIXED_MAX32 2147483647
#define STRIKEROSE_FIXED_MIN32 (-2147483647 - 1)
#define STRIKEROSE_FIXED_MAX64 INT64_C(9223372036854775807)
#define STRIKEROSE_FIXED_MIN64 (-INT64_C(9223372036854775807) - 1)

// How far the early answer of the event under way is.
#define STRIKEROSE_EARLY_OPEN 0 // not tried since the largest short difference
#define STRIKEROSE_EARLY_PLACED 1 // the onset is placed, its window not complete
#define STRIKEROSE_EARLY_NOT 2 // what was seen so far is no strike
#define STRIKEROSE_EARLY_GIVEN 3 // it was due
// mostNumber ends a segment: numbers stay far from overflow. At 1000 Hz it takes
// twelve days.
#define STRIKEROSE_MOST_NUMBER 1073741824
// filled marks a stamp.
#define STRIKEROSE_FILLED 0x8000

// What a step may tell: bits.
#define STRIKEROSE_TOLD_EARLY 1 // the early answer is due
#define STRIKEROSE_TOLD_FINAL 2 // a strike's window is complete
#define STRIKEROSE_TOLD_RETRACT 4 // the event that is over was no strike
// stepNoise is the movement beside a run that noise explains, in standard
// deviations of one axis.
#define STRIKEROSE_STEP_NOISE 6
// runTimes of that a run must stand off at least.
#define STRIKEROSE_RUN_TIMES 4

// Verdicts, in the order in which the rules are asked; the first that applies
// stands.
#define STRIKEROSE_STRIKE 0
#define STRIKEROSE_BLIP 1 // one to three spoiled readings, or no more than noise
#define STRIKEROSE_SWING 2 // rocking, or the bag bouncing on its chain
#define STRIKEROSE_SHOVE 3 // a push that lasts
#define STRIKEROSE_SNATCH 4 // the chain pulled taut after a hard blow
// onsetSamples is taken off the onset that the criterion picks, as in
// features/onset.
#define STRIKEROSE_ONSET_SAMPLES 1

// The noise is measured as in features/onset: by the median size of the third
// difference of single samples, which is blind to motion. The median is read
// from counts in bins of equal ratio, six in a factor of two.
#define STRIKEROSE_NOISE_BINS_PER2 6
#define STRIKEROSE_MOST_NOISE 0xffff // Q8: 256 counts of noise are more than any finder can do with
// Lookahead is how many samples the despiker needs beyond the one it hands on:
// a run of three and two samples after it.
#define STRIKEROSE_LOOKAHEAD 4

// Axes and what counts as a blip.
#define STRIKEROSE_AXIS_UP 2
#define STRIKEROSE_MOST_MENDS 2 // of one event

// Flags of an event.
#define STRIKEROSE_CLIPPED 1 // the accelerometer was at its limit during contact
#define STRIKEROSE_UNSURE 2 // the stated interval is wider than a face, or the strike is near the noise
#define STRIKEROSE_NEAR_GAP 4 // lost samples or an edge of the segment in or near the window
#define STRIKEROSE_RETRACTED 8 // the early answer of this number was no strike

// Stages of an answer.
#define STRIKEROSE_EARLY 0
#define STRIKEROSE_FINAL 1

// How certain an answer is; table.json says what that means in degrees and
// metres.
#define STRIKEROSE_USUAL 0
#define STRIKEROSE_WEAK 1 // hardly more than sway and noise
#define STRIKEROSE_GUESS 2 // nothing was measured

// Told is what a step tells.
typedef uint8_t strikerose_told_t;

// Vector holds the three parts of something in the bag's frame: x toward bearing
// 90, y toward bearing 0, z up; as far as the matrix of the Table turns it there.
typedef struct {
	int32_t x;
	int32_t y;
	int32_t z;
} strikerose_vector_t;

// turns are the arctangents of 2^-i, as binary angles.
static const int32_t fixed_turns[20] = {
	536870912, 316933406, 167458907, 85004756, 42667331, 21354465, 10679838, 5340245, 2670163,
	1335087, 667544, 333772, 166886, 83443, 41722, 20861, 10430, 5215, 2608, 1304,
};

// logs are the logarithms to base 2 of 1 + i/32, Q24.
static const int32_t fixed_logs[34] = {
	0, 744810, 1467383, 2169009, 2850868, 3514044, 4159533, 4788255, 5401057, 5998727, 6581994,
	7151536, 7707984, 8251926, 8783912, 9304457, 9814042, 10313120, 10802114, 11281425, 11751428,
	12212479, 12664911, 13109041, 13545168, 13973576, 14394532, 14808293, 15215099, 15615181,
	16008758, 16396036, 16777216, 17152486,
};

static int32_t max_int32(int32_t a, int32_t b)
{
	return a > b ? a : b;
}

static uint64_t max_uint64(uint64_t a, uint64_t b)
{
	return a > b ? a : b;
}

static int32_t min_int32(int32_t a, int32_t b)
{
	return a < b ? a : b;
}

static uint32_t min_uint32(uint32_t a, uint32_t b)
{
	return a < b ? a : b;
}

// Bits32 is the length of a number in bits; 0 has none.
static uint32_t fixed_bits32(uint32_t x)
{
	uint32_t n = 0u;
	if (x >> 16 != 0u) {
		n = 16u;
		x >>= 16;
	}
	if (x >> 8 != 0u) {
		n += 8u;
		x >>= 8;
	}
	while (x != 0u) {
		n++;
		x >>= 1;
	}
	return n;
}

// Size32 is the size of a number, of the least one too.
static uint32_t fixed_size32(int32_t x)
{
	if (x < 0) {
		return 0u - (uint32_t)x;
	}
	return (uint32_t)x;
}

// Atan2 is the binary angle of a vector from the x axis toward y, to 0.0002
// degrees for vectors of any length. Of the zero vector it is 0; straight back
// it is -180 degrees.
static int32_t fixed_atan2(int32_t y, int32_t x)
{
	uint32_t right = fixed_size32(x);
	uint32_t up = fixed_size32(y);
	uint32_t bits = fixed_bits32(right | up);
	if (bits == 0u) {
		return 0;
	}
	// Into the first quadrant, and to 29 bits: there is room for the lengthening
	// and little is lost by the shifts.
	if (bits > 29u) {
		right >>= (bits - 29u) & 31u;
		up >>= (bits - 29u) & 31u;
	} else {
		right <<= (29u - bits) & 31u;
		up <<= (29u - bits) & 31u;
	}
	int32_t along = (int32_t)right;
	int32_t across = (int32_t)up;
	int32_t angle = 0;
	for (int_fast16_t i = 0; i < 20; i++) {
		int32_t step = along >> i;
		if (across >= 0) {
			along += across >> i;
			across -= step;
			angle += fixed_turns[i];
		} else {
			along -= across >> i;
			across += step;
			angle -= fixed_turns[i];
		}
	}
	if (x < 0) {
		angle = (int32_t)(STRIKEROSE_FIXED_HALF_TURN - (uint32_t)angle);
	}
	if (y < 0) {
		angle = (int32_t)(0u - (uint32_t)angle);
	}
	return angle;
}

// Decideg is a binary angle in tenths of a degree, 0 to 3599, to the nearest.
static int32_t fixed_decideg(int32_t angle)
{
	int32_t tenths = (int32_t)(((uint64_t)(uint32_t)angle * 3600u + UINT64_C(2147483648)) >> 32);
	if (tenths == 3600) {
		return 0;
	}
	return tenths;
}

// Size64 is the size of a number, of the least one too.
static uint64_t fixed_size64(int64_t x)
{
	if (x < 0) {
		return 0u - (uint64_t)x;
	}
	return (uint64_t)x;
}

// Div64 is a / b, half away from 0, saturated. By 0 it gives the limit on a's
// side, and 0 for 0 / 0.
static int64_t fixed_div64(int64_t a, int64_t b)
{
	uint8_t minus = (a < 0) != (b < 0);
	uint64_t size = fixed_size64(a);
	uint64_t by = fixed_size64(b);
	if (by == 0u) {
		if (a == 0) {
			return 0;
		}
		if (a < 0) {
			return STRIKEROSE_FIXED_MIN64;
		}
		return STRIKEROSE_FIXED_MAX64;
	}
	uint64_t q = size / by;
	{
		uint64_t rest = size % by;
		if (rest >= by - rest) {
			q++;
		}
	}
	if (minus) {
		if (q > (uint64_t)STRIKEROSE_FIXED_MAX64) {
			return STRIKEROSE_FIXED_MIN64;
		}
		return -((int64_t)q);
	}
	if (q > (uint64_t)STRIKEROSE_FIXED_MAX64) {
		return STRIKEROSE_FIXED_MAX64;
	}
	return (int64_t)q;
}

// Sat32 holds a number to the range of int32.
static int32_t fixed_sat32(int64_t x)
{
	if (x > STRIKEROSE_FIXED_MAX32) {
		return STRIKEROSE_FIXED_MAX32;
	}
	if (x < STRIKEROSE_FIXED_MIN32) {
		return STRIKEROSE_FIXED_MIN32;
	}
	return (int32_t)x;
}

// Div is a / b, half away from 0, saturated to int32. By 0 it does as Div64.
static int32_t fixed_div(int64_t a, int32_t b)
{
	return fixed_sat32(fixed_div64(a, (int64_t)b));
}

// Round64 is x over 2^shift, half up. shift is 0 to 63.
static int64_t fixed_round64(int64_t x, uint32_t shift)
{
	if (shift == 0u) {
		return x;
	}
	return (x >> (shift & 63u)) + ((x >> ((shift - 1u) & 63u)) & 1);
}

// Mul is a b / 2^shift, half up, saturated. shift is 0 to 63.
static int32_t fixed_mul(int32_t a, int32_t b, uint32_t shift)
{
	return fixed_sat32(fixed_round64((int64_t)a * (int64_t)b, shift));
}

// Bits64 is the length of a number in bits; 0 has none.
static uint32_t fixed_bits64(uint64_t x)
{
	if (x >> 32 != 0u) {
		return 32u + fixed_bits32((uint32_t)(x >> 32));
	}
	return fixed_bits32((uint32_t)x);
}

// Log2 is the logarithm to base 2 in Q24, to 0.000007: through three points of
// a table. Of 0 it is 0.
static int32_t fixed_log2(uint64_t x)
{
	uint32_t bits = fixed_bits64(x);
	if (bits == 0u) {
		return 0;
	}
	uint32_t mantissa = (uint32_t)((x << ((64u - bits) & 63u)) >> 32) & 0x7fffffffu; // Q31, less 1
	uint32_t i = mantissa >> 26;
	int32_t part = (int32_t)(mantissa & 0x3ffffffu); // between the points, Q26
	int32_t first = fixed_logs[i + 1u] - fixed_logs[i];
	int32_t bend = fixed_logs[i + 2u] - fixed_logs[i + 1u] - first;
	// y0 + u (first + (u - 1)/2 bend)
	int32_t slope = first + fixed_mul(part - 67108864, bend, 27u);
	return (int32_t)(bits - 1u) * 16777216 + fixed_logs[i] + fixed_mul(part, slope, 26u);
}

// Exp2 is 2^x in Q31 for x of Q24, at most 0; above 0 it is as at 0. It is
// within 4e-7 of the value, and 1 unit.
static uint32_t fixed_exp2(int32_t x)
{
	if (x >= 0) {
		return 2147483648u;
	}
	uint32_t down = (uint32_t)-(x >> 24); // whole steps down, and up by the rest
	if (down > 32u) {
		return 0u;
	}
	int32_t u = (x & 0xffffff) * 64; // Q30
	int32_t p = STRIKEROSE_FIXED_POWER4 + fixed_mul(u, STRIKEROSE_FIXED_POWER5, 30u);
	p = STRIKEROSE_FIXED_POWER3 + fixed_mul(u, p, 30u);
	p = STRIKEROSE_FIXED_POWER2 + fixed_mul(u, p, 30u);
	p = STRIKEROSE_FIXED_POWER1 + fixed_mul(u, p, 30u);
	uint64_t full = (uint64_t)(1073741824 + fixed_mul(u, p, 30u)) << 1; // Q31, 1 to 2
	return (uint32_t)fixed_round64((int64_t)full, down);
}

// Abs32 is the size of a number; of the least one the greatest.
static int32_t fixed_abs32(int32_t x)
{
	if (x >= 0) {
		return x;
	}
	if (x == STRIKEROSE_FIXED_MIN32) {
		return STRIKEROSE_FIXED_MAX32;
	}
	return -x;
}

// Restart begins a segment: all but noise, level and the count of strikes is
// forgotten.
static void chain_restart(strikerose_chain_t *c)
{
	c->n = 0;
	c->collecting = 0;
	c->pending = 0;
	c->strike_size = 0;
	c->ring[0] = 0;
	c->ring[1] = 0;
}

static void meter_start(strikerose_meter_t *m, const strikerose_chain_table_t *t)
{
	for (int_fast16_t i = 0; i < 48; i++) {
		m->counts[i] = 0;
	}
	m->n = 0;
	m->next = t->noise_first;
	m->done = 0;
}

// Start makes everything as new.
static void chain_start(strikerose_chain_t *c)
{
	c->noise = (&strikerose_table.chain)->noise;
	meter_start(&c->meter, (&strikerose_table.chain));
	chain_restart(c);
}

// first is the number of a segment's first reading.
static int32_t chain_first(const strikerose_chain_t *c)
{
	(void)c;
	return (int32_t)STRIKEROSE_RING;
}

// place returns where reading i lies in the ring, whose length is a power of two.
// i is one of the newest that the ring holds.
static int32_t chain_place(const strikerose_chain_t *c, int32_t i)
{
	(void)c;
	return i & ((int32_t)STRIKEROSE_RING - 1);
}

// at returns reading i of one axis.
static int32_t chain_at(const strikerose_chain_t *c, int32_t i, int32_t axis)
{
	return (int32_t)c->a[chain_place(c, i)][axis];
}

// Sort brings a reading's axes into the chain's order: two across the bag, then the
// one along it.
static void chain_sort(const strikerose_chain_t *c, const strikerose_sample_t *s, strikerose_sample_t *x)
{
	(void)c;
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	(void)t;
	x->t_us = s->t_us;
	x->a[0] = s->a[0];
	x->a[1] = s->a[1];
	x->a[2] = s->a[2];
}

// Lost tells by a sample's stamp how many samples were lost before it, -1 where
// a new segment begins. It follows the board's clock: a sample is late against
// those before it, not against the last alone, so stamps in whole milliseconds
// do as well.
static int32_t chain_lost(strikerose_chain_t *c, const strikerose_sample_t *s)
{
	if (c->n == 0 || c->n >= STRIKEROSE_MOST_NUMBER) {
		return -1;
	}
	int32_t step = (int32_t)(s->t_us - c->last_us);
	if (step < -(&strikerose_table.chain)->farthest || step > (&strikerose_table.chain)->farthest) {
		return -1;
	}
	// Farthest is at most 40000 us, so all of this stays below 2^25.
	int32_t late = c->phase + step * 256 - (&strikerose_table.chain)->period;
	int32_t lost = 0;
	while (late > (&strikerose_table.chain)->late) {
		late -= (&strikerose_table.chain)->period;
		lost++;
	}
	if (lost > (&strikerose_table.chain)->most_lost || late < -(&strikerose_table.chain)->period) {
		return -1;
	}
	c->phase = late - (late >> 3);
	return lost;
}

static void chain_put(strikerose_chain_t *c, int32_t p, const strikerose_sample_t *s, uint16_t mark)
{
	for (int32_t k = 0; k < 3; k++) {
		c->a[p][k] = s->a[k];
	}
	c->stamps[p] = (uint16_t)(((uint16_t)s->t_us & ~(uint16_t)STRIKEROSE_FILLED) | mark);
}

static void chain_append(strikerose_chain_t *c, const strikerose_sample_t *s, uint16_t mark)
{
	chain_put(c, chain_place(c, c->n), s, mark);
	c->n++;
	c->last_us = s->t_us;
}

static void meter_count(strikerose_meter_t *m, const strikerose_chain_table_t *t, int32_t size)
{
	int32_t bin = 0;
	if (size > 0) {
		// 18 bits of size: the logarithm is below 18 x 2^24, six times which needs 64.
		int64_t above = (int64_t)fixed_log2((uint64_t)size) - (int64_t)t->noise_edge;
		if (above > 0) {
			bin = min_int32(47, 1 + (int32_t)((above * STRIKEROSE_NOISE_BINS_PER2) >> 24));
		}
	}
	m->counts[bin]++;
}

// median gives the noise, Q8, interpolated within its bin.
static int32_t meter_median(const strikerose_meter_t *m, const strikerose_chain_table_t *t)
{
	int32_t total = 0;
	for (int_fast16_t i = 0; i < 48; i++) {
		total += (int32_t)m->counts[i];
	}
	int32_t sum = 0;
	for (int_fast16_t i = 0; i < 48; i++) {
		int32_t n = (int32_t)m->counts[i];
		if (n > 0 && 2 * (sum + n) >= total) {
			int32_t bin = (int32_t)i;
			if (bin == 0) {
				return 0;
			}
			// Bins below the beginning of the last one, Q24; total is below 2^18.
			int32_t part = fixed_div((int64_t)(total - 2 * sum) * INT64_C(8388608), n);
			int32_t below = (47 - bin) * 16777216 - part;
			return (int32_t)(((int64_t)t->noise_top * (int64_t)fixed_exp2(-max_int32(below, 0) / STRIKEROSE_NOISE_BINS_PER2)) >> 31);
		}
		sum += n;
	}
	return 0;
}

// measureNoise takes the newest reading into the measurement.
static void chain_measure_noise(strikerose_chain_t *c)
{
	strikerose_meter_t *m = &c->meter;
	if (m->done) {
		return;
	}
	int32_t i = c->n - 1;
	if (m->held == 3) {
		for (int32_t k = 0; k < 3; k++) {
			meter_count(m, (&strikerose_table.chain), fixed_abs32(chain_at(c, i, k) - 3 * chain_at(c, i - 1, k) + 3 * chain_at(c, i - 2, k) - chain_at(c, i - 3, k)));
		}
	} else {
		m->held++;
	}
	m->n++;
	if (m->n >= m->next) {
		c->noise = min_int32(max_int32((&strikerose_table.chain)->noise_least, meter_median(m, (&strikerose_table.chain))), STRIKEROSE_MOST_NOISE);
		m->next *= 2;
		m->done = m->n >= (&strikerose_table.chain)->noise_until;
	}
}

static void chain_accept(strikerose_chain_t *c, const strikerose_sample_t *s, uint16_t mark)
{
	c->padding = 0;
	chain_append(c, s, mark);
	chain_measure_noise(c);
}

// between returns the point j/n of the way from a to b, rounded half away from
// a. n is above 0, a and b are readings.
static int16_t between(int32_t a, int32_t b, int32_t j, int32_t n)
{
	if (n <= 0) {
		return (int16_t)a;
	}
	int32_t d = (b - a) * j;
	int32_t half = n / 2;
	if (d < 0) {
		half = -half;
	}
	return (int16_t)(a + (d + half) / n);
}

// Fill takes the reading j/parts of the way from the newest to s, which was lost.
static void chain_fill(strikerose_chain_t *c, const strikerose_sample_t *s, const strikerose_sample_t *from, int32_t j, int32_t parts)
{
	strikerose_sample_t x = {0};
	x.t_us = s->t_us;
	for (int32_t k = 0; k < 3; k++) {
		x.a[k] = between((int32_t)from->a[k], (int32_t)s->a[k], j, parts);
	}
	chain_accept(c, &x, STRIKEROSE_FILLED);
}

// Newest copies the newest reading.
static void chain_newest(const strikerose_chain_t *c, strikerose_sample_t *s)
{
	int32_t p = chain_place(c, c->n - 1);
	for (int32_t k = 0; k < 3; k++) {
		s->a[k] = c->a[p][k];
	}
	s->t_us = c->last_us;
}

// Take takes a reading. The first of a segment stands for all before it.
static void chain_take(strikerose_chain_t *c, const strikerose_sample_t *s)
{
	if (c->n == 0) {
		c->n = chain_first(c);
		c->clean = c->n;
		c->mended = c->n;
		c->hold_to = c->n;
		c->phase = 0;
		c->sum[0] = 0;
		c->sum[1] = 0;
		for (int_fast16_t i = 0; i < STRIKEROSE_RING; i++) {
			chain_put(c, (int32_t)i, s, 0);
		}
		c->meter.held = 0;
	}
	chain_accept(c, s, 0);
}

// Pad stands for a sample after the segment's end: the newest again.
static void chain_pad(strikerose_chain_t *c)
{
	strikerose_sample_t s = {0};
	chain_newest(c, &s);
	c->padding = 1;
	chain_append(c, &s, STRIKEROSE_FILLED);
}

// size is the length of a vector to within 1.4 %, by two lines that touch the
// circle from either side; rules with margins want no more. Each part is below
// 2^29.
static int32_t size(int32_t x, int32_t y)
{
	int32_t most = max_int32(fixed_abs32(x), fixed_abs32(y));
	int32_t least = min_int32(fixed_abs32(x), fixed_abs32(y));
	return max_int32(most + least / 8 + least / 32, most - most / 8 - most / 32 + least / 2 + least / 16);
}

// distance is how far reading i lies from reading j, over all axes, Q4.
static int32_t chain_distance(const strikerose_chain_t *c, int32_t i, int32_t j)
{
	int32_t d[STRIKEROSE_AXES] = {0};
	for (int32_t k = 0; k < 3; k++) {
		d[k] = (chain_at(c, i, k) - chain_at(c, j, k)) * 16;
	}
	return size(size(d[0], d[1]), d[2]);
}

// lined returns reading i as if the w readings from start lay on the line across
// them.
static int32_t chain_lined(const strikerose_chain_t *c, int32_t i, int32_t axis, int32_t start, int32_t w)
{
	if (i < start || i >= start + w) {
		return chain_at(c, i, axis);
	}
	return (int32_t)between(chain_at(c, start - 1, axis), chain_at(c, start + w, axis), i - start + 1, w + 1);
}

// offLine is how far reading i + j lies from the line between the readings beside a
// run of w that begins at i, Q4.
static int32_t chain_off_line(const strikerose_chain_t *c, int32_t i, int32_t j, int32_t w)
{
	int32_t d[STRIKEROSE_AXES] = {0};
	for (int32_t k = 0; k < 3; k++) {
		d[k] = (chain_at(c, i + j, k) - chain_lined(c, i + j, k, i, w)) * 16;
	}
	return size(size(d[0], d[1]), d[2]);
}

// bridge replaces the w readings from i on by the line across them.
static void chain_bridge(strikerose_chain_t *c, int32_t i, int32_t w)
{
	for (int32_t j = i; j < i + w; j++) {
		for (int32_t k = 0; k < 3; k++) {
			c->a[chain_place(c, j)][k] = (int16_t)chain_lined(c, j, k, i, w);
		}
	}
}

// despike looks for a blip that begins at reading i, the shortest first, and
// replaces it by the line across it.
static void chain_despike(strikerose_chain_t *c, int32_t i)
{
	int32_t still = STRIKEROSE_STEP_NOISE * (c->noise >> 4); // Q4; noise is below 2^24
	int32_t into = chain_distance(c, i, i - 1);
	if (into <= still) { // nearly always: nothing more to do
		return;
	}
	int32_t beside = chain_distance(c, i - 1, i - 2);
	for (int32_t w = 1; w <= (&strikerose_table.chain)->blip; w++) {
		int32_t step = max_int32(max_int32(beside, chain_distance(c, i + w + 1, i + w)), chain_distance(c, i + w, i - 1));
		if (into <= step) {
			continue;
		}
		int32_t off = 0;
		for (int32_t j = 0, j_end = w; j < j_end; j++) {
			off = max_int32(off, chain_off_line(c, i, j, w));
		}
		// Distances are below 2^21: all this stays below 2^27.
		if (off <= STRIKEROSE_RUN_TIMES * still + (&strikerose_table.chain)->run_times[w - 1] * max_int32(0, step - still)) {
			continue;
		}
		chain_bridge(c, i, w);
		c->mended = i + w;
		return;
	}
}

// change is what it gains from reading i - 1 to i.
static int32_t chain_change(const strikerose_chain_t *c, int32_t i, int32_t k, int32_t axis)
{
	return 3 * (chain_at(c, i - k, axis) - chain_at(c, i - 2 * k, axis)) + chain_at(c, i - 3 * k, axis) - chain_at(c, i, axis);
}

// fade lets what the last strike adds to the trigger level go.
static void chain_fade(strikerose_chain_t *c)
{
	for (int32_t b = 0; b < 2; b++) {
		int32_t slow = (&strikerose_table.chain)->fade[b];
		if (slow > 0) {
			c->ring[b] -= c->ring[b] / slow;
		}
	}
}

// noiseLevel is the trigger level that the noise asks for; both factors have 16
// bits.
static int32_t chain_noise_level(const strikerose_chain_t *c)
{
	return (int32_t)(((uint32_t)c->noise * (uint32_t)(&strikerose_table.chain)->per_noise) >> 16);
}

// spoiled tells whether single samples move more than twice as much as the short
// difference: a lone sample off by h gives h in the raw second difference and h
// over the boxcar's length in the short one, a contact gives less in the raw one.
static uint8_t collected_spoiled(const strikerose_collected_t *e, const strikerose_chain_table_t *t)
{
	return e->raw * t->boxcar > e->brief * 2;
}

static uint8_t collected_blip(const strikerose_collected_t *e, const strikerose_chain_t *c)
{
	return collected_spoiled(e, (&strikerose_table.chain)) || e->brief < c->level;
}

// swing: the short difference is below 0.45 of the long one, whose boxcar is three
// times as long.
static uint8_t collected_swing(const strikerose_collected_t *e)
{
	return e->brief * 20 < e->slow * 3;
}

// second sums it up afresh.
static int32_t chain_second(const strikerose_chain_t *c, int32_t i, int32_t k, int32_t axis)
{
	int32_t sum = 0;
	for (int32_t j = 0, j_end = k; j < j_end; j++) {
		sum += 2 * chain_at(c, i - k - j, axis) - chain_at(c, i - j, axis) - chain_at(c, i - 2 * k - j, axis);
	}
	return sum;
}

// follow brings a second difference from the reading before to reading i of an
// event, which it begins afresh.
static int32_t chain_follow(const strikerose_chain_t *c, int32_t sum, int32_t i, int32_t k, int32_t axis)
{
	if (i == c->trigger) {
		return chain_second(c, i, k, axis);
	}
	return sum + chain_change(c, i, k, axis);
}

// rawLargest returns twice the largest second difference of single
// samples across the bag, with the w readings from start replaced by the line
// across them, none for 0; of the whole event it keeps where it ends.
static int32_t collected_raw_largest(strikerose_collected_t *e, const strikerose_chain_t *c, int32_t start, int32_t w)
{
	int32_t most = 0;
	for (int32_t i = c->trigger - 3 * (&strikerose_table.chain)->boxcar; i <= e->now; i++) {
		int32_t d[2] = {0};
		for (int32_t b = 0; b < 2; b++) {
			d[b] = 2 * chain_lined(c, i - 1, b, start, w) - chain_lined(c, i, b, start, w) - chain_lined(c, i - 2, b, start, w);
		}
		int32_t now = size(d[0], d[1]);
		if (now > most) {
			most = now;
			if (w == 0) {
				e->raw_at = i;
			}
		}
	}
	return most;
}

// measure takes the differences' largest values up to reading now.
static void collected_measure(strikerose_collected_t *e, const strikerose_chain_t *c, int32_t now)
{
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	e->now = now;
	e->brief = 0;
	e->slow = 0;
	e->vertical = 0;
	e->short_at = c->trigger;
	int32_t brief[STRIKEROSE_AXES] = {0};
	int32_t slow[2] = {0};
	for (int32_t i = c->trigger; i <= now; i++) {
		for (int32_t b = 0; b < 2; b++) {
			brief[b] = chain_follow(c, brief[b], i, t->boxcar, b);
			slow[b] = chain_follow(c, slow[b], i, 3 * t->boxcar, b);
		}
		brief[2] = chain_follow(c, brief[2], i, t->boxcar, STRIKEROSE_AXIS_UP);
		int32_t across = size(brief[0], brief[1]);
		if (across > e->brief) {
			e->brief = across;
			e->short_at = i;
		}
		e->vertical = max_int32(e->vertical, fixed_abs32(brief[2]));
		if (i <= e->short_at + t->lag) {
			e->slow = max_int32(e->slow, size(slow[0], slow[1]));
		}
	}
	e->raw = collected_raw_largest(e, c, 0, 0);
}

// mend replaces the run whose removal lowers the largest raw second difference
// most; a longer run must leave less than 0.7 of what a shorter one leaves. It is
// false where none does.
static uint8_t collected_mend(strikerose_collected_t *e, strikerose_chain_t *c)
{
	int32_t best = e->raw;
	int32_t start = 0;
	int32_t n = 0;
	for (int32_t w = 1; w <= (&strikerose_table.chain)->blip; w++) {
		for (int32_t s = e->raw_at - 1 - w; s <= e->raw_at && s + w <= e->now; s++) {
			int32_t m = collected_raw_largest(e, c, s, w);
			if (m < best && (w == n || n == 0 || m * 10 < best * 7)) {
				best = m;
				start = s;
				n = w;
			}
		}
	}
	if (n == 0) {
		return 0;
	}
	chain_bridge(c, start, n);
	return 1;
}

// along is the part of reading i less base along the event's push, Q4. Readings
// less their mean are below 2^16 and the unit vector is at most 1.4 % too long: each
// product stays below 2^30.1.
static int32_t collected_along(const strikerose_collected_t *e, const strikerose_chain_t *c, int32_t i)
{
	int32_t x = chain_at(c, i, 0) - e->base[0];
	int32_t y = chain_at(c, i, 1) - e->base[1];
	return ((x * e->way[0]) >> 10) + ((y * e->way[1]) >> 10);
}

// logarithm is the logarithm to base 2, Q16, to 0.009: between powers of two the
// parabola that meets its ends and its middle. Of 0 it is 0.
static int32_t logarithm(uint64_t x)
{
	uint32_t bits = fixed_bits64(x);
	if (bits == 0u) {
		return 0;
	}
	int32_t part = (int32_t)((x << ((64u - bits) & 63u)) >> 48) - 32768; // Q15
	return (int32_t)bits * 65536 + part * 2 + part * (32768 - part) / 47700;
}

// spread is n times the logarithm of the variance of n numbers, from their sum and
// sum of squares: to base 2, Q16 times n. Numbers have 16 bits and n is at most
// 400, so that n times the squares is below 2^50.
static int32_t spread(int32_t sum, uint64_t square, int32_t n, uint32_t floor)
{
	uint64_t many = (uint64_t)(int64_t)n;
	uint64_t v = many * square - (uint64_t)((int64_t)sum * (int64_t)sum);
	return n * (logarithm(max_uint64(v, many * many * (uint64_t)floor)) - 2 * logarithm(many));
}

// locate finds the onset: the readings along the direction of the largest
// deviation, from before mid-contact to the peak, split in two where that makes
// the Akaike criterion least (see features/onset).
static void collected_locate(strikerose_collected_t *e, const strikerose_chain_t *c)
{
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	int32_t mid = e->short_at - 3 * t->boxcar / 2;
	int32_t from = mid - t->before;
	int32_t half = t->before / 2;
	if (half <= 0) {
		half = 1;
	}
	for (int32_t b = 0; b < 2; b++) {
		int32_t sum = 0;
		for (int32_t i = from; i < from + half; i++) {
			sum += chain_at(c, i, b);
		}
		e->base[b] = sum / half;
	}
	int32_t peak = from;
	int32_t most = 0;
	for (int32_t i = from; i <= e->short_at; i++) {
		int32_t x = chain_at(c, i, 0) - e->base[0];
		int32_t y = chain_at(c, i, 1) - e->base[1];
		int32_t now = size(x, y);
		if (now > most) {
			peak = i;
			most = now;
			e->way[0] = x;
			e->way[1] = y;
		}
	}
	e->onset = mid;
	if (most <= 0) {
		return;
	}
	// Numbers along the push are to have 15 bits: their squares then fit into 32.
	uint32_t down = fixed_bits32((uint32_t)most) + 4u;
	down -= min_uint32(down, 15u);
	int32_t n = peak - from + 1;
	for (int32_t b = 0; b < 2; b++) {
		e->way[b] = e->way[b] * 16384 / most; // below 2^31: a reading less another has 16 bits
	}
	int32_t sum = 0;
	uint64_t square = 0u;
	for (int32_t i = from; i <= peak; i++) {
		int32_t x = collected_along(e, c, i) >> (down & 31u);
		sum += x;
		square += (uint64_t)(uint32_t)(x * x);
	}
	// Half the noise still counts as still.
	uint32_t floor = (uint32_t)(c->noise >> 5) >> (down & 31u);
	floor *= floor;
	int32_t before = 0;
	uint64_t before2 = 0u;
	int32_t best = 0;
	int32_t pick = 0;
	for (int32_t i = 1; i <= n - 2; i++) {
		int32_t x = collected_along(e, c, from + i - 1) >> (down & 31u);
		before += x;
		before2 += (uint64_t)(uint32_t)(x * x);
		if (i < 2) {
			continue;
		}
		int32_t a = spread(before, before2, i, floor) + spread(sum - before, square - before2, n - i, floor);
		if (pick == 0 || a < best) {
			best = a;
			pick = i;
		}
	}
	e->onset = from + pick - STRIKEROSE_ONSET_SAMPLES;
}

// mean along the push of the readings from and before to after the onset, Q4, as
// far as they belong to the event; 0 where none do.
static int32_t collected_mean(const strikerose_collected_t *e, const strikerose_chain_t *c, int32_t from, int32_t to)
{
	int32_t first = e->onset + from;
	int32_t last = min_int32(e->onset + to - 1, e->now);
	int32_t n = last - first + 1;
	if (n <= 0) {
		return 0;
	}
	int32_t sum = 0;
	for (int32_t i = first; i <= last; i++) {
		sum += collected_along(e, c, i);
	}
	return sum / n;
}

// lasts tells a push that is not over when a strike's would be: what is left of it
// then is more than 0.6 of what it was.
static uint8_t collected_lasts(const strikerose_collected_t *e, const strikerose_chain_t *c)
{
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	int32_t base = collected_mean(e, c, t->tail[0], t->tail[1]);
	int32_t push = collected_mean(e, c, t->tail[2], t->tail[3]) - base;
	int32_t late = collected_mean(e, c, t->tail[4], t->tail[5]) - base;
	return push > 0 && late * 10 > push * 6;
}

// judge measures, mends where it must, and applies the rules.
static void collected_judge(strikerose_collected_t *e, strikerose_chain_t *c, int32_t now)
{
	collected_measure(e, c, now);
	for (int32_t n = 0; n < STRIKEROSE_MOST_MENDS && collected_spoiled(e, (&strikerose_table.chain)); n++) {
		if (!collected_mend(e, c)) {
			break;
		}
		collected_measure(e, c, now);
	}
	collected_locate(e, c);
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	uint8_t snatchable = c->strike_size > 0 && c->trigger - c->strike_at <= t->snatch;
	if (collected_blip(e, c)) {
		e->verdict = STRIKEROSE_BLIP;
	} else if (collected_swing(e)) {
		e->verdict = STRIKEROSE_SWING;
	} else if (e->brief * 3 < e->slow && e->brief < t->shove && collected_lasts(e, c)) {
		e->verdict = STRIKEROSE_SHOVE;
	} else if (snatchable && e->vertical * 10 > e->brief * 9 && e->brief * 10 < c->strike_size * 3) {
		e->verdict = STRIKEROSE_SNATCH;
	} else {
		e->verdict = STRIKEROSE_STRIKE;
	}
}

// decide judges the event that was collected up to reading i.
static void chain_decide(strikerose_chain_t *c, int32_t i)
{
	strikerose_collected_t *e = &c->event;
	// The noise may have been measured since the trigger.
	c->level = max_int32(c->level, chain_noise_level(c));
	collected_judge(e, c, i);
	for (int32_t b = 0; b < 2; b++) {
		c->sum[b] = chain_second(c, i, (&strikerose_table.chain)->boxcar, b); // readings may have been mended
	}
	if (e->verdict != STRIKEROSE_STRIKE) {
		return;
	}
	c->onset = max_int32(chain_first(c), e->onset);
	c->decided = i;
	c->strike_at = c->onset;
	c->strike_size = e->brief;
	c->hold_to = c->onset + (&strikerose_table.chain)->dead;
	for (int32_t b = 0; b < 2; b++) {
		c->ring[b] = min_int32(c->strike_size, 4194304) * (&strikerose_table.chain)->ring[b];
	}
	for (int32_t j = c->onset; j < i; j++) {
		chain_fade(c);
	}
}

// measured tells whether there is a value better than the start.
static uint8_t chain_measured(const strikerose_chain_t *c)
{
	return c->meter.n >= (&strikerose_table.chain)->noise_first;
}

// find takes reading i, which has left the despiker. It is true where an event is
// decided.
static uint8_t chain_find(strikerose_chain_t *c, int32_t i)
{
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	for (int32_t b = 0; b < 2; b++) {
		c->sum[b] += chain_change(c, i, t->boxcar, b);
	}
	chain_fade(c);
	if (c->collecting) {
		int32_t now = size(c->sum[0], c->sum[1]);
		if (now > c->most) {
			c->most = now;
			c->most_at = i;
			if (c->early != STRIKEROSE_EARLY_GIVEN) {
				c->early = STRIKEROSE_EARLY_OPEN;
			}
		}
		if ((i >= c->trigger + t->collect && i >= c->most_at + t->settle) || i == c->trigger + t->longest) {
			c->collecting = 0;
			chain_decide(c, i);
			return 1;
		}
		return 0;
	}
	if (i < c->hold_to || c->padding || !chain_measured(c)) {
		return 0;
	}
	int32_t level = max_int32(max_int32(chain_noise_level(c), t->floor), (c->ring[0] >> 8) + (c->ring[1] >> 8));
	int32_t now = size(c->sum[0], c->sum[1]);
	if (now > level) {
		c->collecting = 1;
		c->trigger = i;
		c->level = level;
		c->most = now;
		c->most_at = i;
		c->early = STRIKEROSE_EARLY_OPEN;
	}
	return 0;
}

// soon tells when the early answer is due: once the largest short difference has
// stood for a moment the onset is placed, and when the early window is complete
// the answer can be given, before the event is judged.
static uint8_t chain_soon(strikerose_chain_t *c, int32_t i)
{
	if (c->early == STRIKEROSE_EARLY_OPEN && i >= c->most_at + (&strikerose_table.chain)->steady) {
		c->early = STRIKEROSE_EARLY_NOT;
		c->level = max_int32(c->level, chain_noise_level(c));
		collected_measure(&c->event, c, i);
		if (!collected_blip(&c->event, c) && !collected_swing(&c->event)) {
			collected_locate(&c->event, c);
			c->onset = max_int32(chain_first(c), c->event.onset);
			c->decided = i;
			c->early = STRIKEROSE_EARLY_PLACED;
		}
	}
	if (c->early == STRIKEROSE_EARLY_PLACED && c->clean >= c->onset + (&strikerose_table.chain)->soon) {
		c->early = STRIKEROSE_EARLY_GIVEN;
		return 1;
	}
	return 0;
}

// Step takes the newest reading through the chain.
static strikerose_told_t chain_step(strikerose_chain_t *c)
{
	strikerose_told_t told = 0;
	int32_t i = c->n - 1 - STRIKEROSE_LOOKAHEAD;
	if (i < chain_first(c)) {
		return told;
	}
	if (i >= c->mended) {
		chain_despike(c, i);
	}
	c->clean = i + 1;
	if (chain_find(c, i)) {
		if (c->event.verdict == STRIKEROSE_STRIKE) {
			c->pending = 1;
		} else {
			told = STRIKEROSE_TOLD_RETRACT;
		}
	}
	if ((&strikerose_table.chain)->soon != 0 && c->collecting && !c->padding) {
		if (chain_soon(c, i)) {
			told = (strikerose_told_t)(told | STRIKEROSE_TOLD_EARLY);
		}
	}
	if (c->pending && c->clean >= c->onset + (&strikerose_table.chain)->post) {
		c->pending = 0;
		told = (strikerose_told_t)(told | STRIKEROSE_TOLD_FINAL);
	}
	return told;
}

// Busy tells whether something is still to be decided or answered.
static uint8_t chain_busy(const strikerose_chain_t *c)
{
	return c->collecting || c->pending;
}

// Onset is the number of the onset that an answer is about: of the strike whose
// window is complete, or of the event under way.
static int32_t chain_onset(const strikerose_chain_t *c)
{
	return c->onset;
}

// Stamp returns the time of reading i, which the ring still holds.
static uint32_t chain_stamp(const strikerose_chain_t *c, int32_t i)
{
	uint32_t t = c->last_us;
	for (int32_t j = c->n - 1; j > i; j--) {
		uint32_t a = (uint32_t)c->stamps[chain_place(c, j)];
		uint32_t b = (uint32_t)c->stamps[chain_place(c, j - 1)];
		t -= (a - b) & 0x7fffu;
	}
	return t;
}

// Begun tells whether the segment has a reading.
static uint8_t chain_begun(const strikerose_chain_t *c)
{
	return c->n != 0;
}

// NearGap tells whether the window of the strike at hand, up to post samples after
// its onset, has an edge or a filled reading in it or close before it.
static uint8_t chain_near_gap(const strikerose_chain_t *c, int32_t post)
{
	if (c->onset - (&strikerose_table.chain)->near_gap < chain_first(c) || (c->stamps[chain_place(c, c->decided)] & STRIKEROSE_FILLED) != 0) {
		return 1;
	}
	for (int32_t i = c->onset - (&strikerose_table.chain)->near_gap; i < c->onset + post; i++) {
		if ((c->stamps[chain_place(c, i)] & STRIKEROSE_FILLED) != 0) {
			return 1;
		}
	}
	return 0;
}

// Clipped tells whether the accelerometer was at its limit during the contact.
static uint8_t chain_clipped(const strikerose_chain_t *c)
{
	int32_t last = min_int32(c->onset + (&strikerose_table.chain)->contact, c->decided);
	for (int32_t i = c->onset; i <= last; i++) {
		for (int32_t k = 0; k < 3; k++) {
			if (fixed_abs32(chain_at(c, i, k)) >= (&strikerose_table.chain)->clip) {
				return 1;
			}
		}
	}
	return 0;
}

// slope is what a curve gains over n readings, in sixteen counts, from what it
// gains in one.
static int32_t slope(int32_t n, int32_t step)
{
	return min_int32(max_int32(n * (step >> 4), -1048576), 1048576);
}

// clipsLike tells whether reading i is at the limit on the side of x.
static uint8_t chain_clips_like(const strikerose_chain_t *c, int32_t i, int32_t axis, int32_t x)
{
	int32_t y = chain_at(c, i, axis);
	return fixed_abs32(y) >= (&strikerose_table.chain)->clip && (y > 0) == (x > 0);
}

// unclipped returns reading i of the accelerometer. Where the sensor's limit cut
// it off during the contact, it is refilled as features/chain does: by a cubic
// that goes on from the two readings before the clipped run to the two after it.
static int32_t chain_unclipped(const strikerose_chain_t *c, int32_t i, int32_t axis)
{
	int32_t x = chain_at(c, i, axis);
	int32_t from = c->onset - (&strikerose_table.chain)->early;
	int32_t to = min_int32(c->onset + (&strikerose_table.chain)->contact, c->clean);
	if (fixed_abs32(x) < (&strikerose_table.chain)->clip || i < from || i >= to) {
		return x;
	}
	int32_t first = i;
	while (first > from && chain_clips_like(c, first - 1, axis, x)) {
		first--;
	}
	int32_t last = i;
	while (last + 1 < to && chain_clips_like(c, last + 1, axis, x)) {
		last++;
	}
	if (first - from < 2 || last + 2 >= to) {
		return x;
	}
	int32_t n = last - first + 2;
	if (n <= 0) {
		return x;
	}
	// The cubic p0 + u (m0 + u (bend + u twist)), u the position in the run, Q8; the
	// rest in sixteen counts. Slopes are held so that no sum passes 2^31.
	int32_t p0 = chain_at(c, first - 1, axis) >> 4;
	int32_t rise = (chain_at(c, last + 1, axis) >> 4) - p0;
	int32_t m0 = slope(n, chain_at(c, first - 1, axis) - chain_at(c, first - 2, axis));
	int32_t m1 = slope(n, chain_at(c, last + 2, axis) - chain_at(c, last + 1, axis));
	int32_t u = (i - first + 1) * 256 / n;
	int32_t y = (p0 + u * (m0 + u * (3 * rise - 2 * m0 - m1 + u * (m0 + m1 - 2 * rise) / 256) / 256) / 256) * 16;
	if (x < 0) {
		return -min_int32(max_int32(-y, -x), (&strikerose_table.chain)->most_clip);
	}
	return min_int32(max_int32(y, x), (&strikerose_table.chain)->most_clip);
}

// Samples is how long a stretch is, Q8.
static int32_t stretch_samples(const strikerose_stretch_t *s)
{
	int32_t parts = (int32_t)s->first_part + (int32_t)s->last_part;
	if (s->last_part == 0) {
		return parts;
	}
	return parts + 256 * ((int32_t)s->last - (int32_t)s->first - 1);
}

static int32_t chain_reading(const strikerose_chain_t *c, int32_t i, int32_t axis, uint8_t gyro)
{
	(void)gyro;
	return chain_unclipped(c, i, axis);
}

// total sums one axis over a stretch, Q4. A reading is below 2^17, refilled ones
// included, and a stretch has at most 1200 samples: the sum stays below 2^31.
static int32_t chain_total(const strikerose_chain_t *c, const strikerose_stretch_t *s, int32_t axis, uint8_t gyro)
{
	int32_t sum = 0;
	for (int32_t j = (int32_t)s->first + 1; j < (int32_t)s->last; j++) {
		sum += chain_reading(c, c->onset + j, axis, gyro);
	}
	int32_t ends = (int32_t)s->first_part * chain_reading(c, c->onset + (int32_t)s->first, axis, gyro);
	if (s->last_part != 0) {
		ends += (int32_t)s->last_part * chain_reading(c, c->onset + (int32_t)s->last, axis, gyro);
	}
	return sum * 16 + (ends >> 4);
}

// upright lets the third axis point up.
static strikerose_vector_t chain_upright(const strikerose_chain_t *c, const int32_t v[STRIKEROSE_AXES])
{
	(void)c;
	return (strikerose_vector_t){.x = v[0], .y = v[1], .z = v[STRIKEROSE_AXIS_UP] * (&strikerose_table.chain)->upright};
}

static int32_t row(const int32_t m[STRIKEROSE_AXES], const int32_t v[STRIKEROSE_AXES])
{
	return fixed_sat32(fixed_round64((int64_t)m[0] * (int64_t)v[0] + (int64_t)m[1] * (int64_t)v[1] + (int64_t)m[2] * (int64_t)v[2], 14u));
}

// turnedA turns a vector of the accelerometer from the sensor's axes to the bag's.
// Where that is a turn about the bag's axis alone it is left to the bearing at the
// end.
static strikerose_vector_t chain_turned_a(const strikerose_chain_t *c, const int32_t v[STRIKEROSE_AXES])
{
	const strikerose_chain_table_t *t = (&strikerose_table.chain);
	return chain_upright(c, v);
	return (strikerose_vector_t){.x = row(t->turn_a[0], v), .y = row(t->turn_a[1], v), .z = row(t->turn_a[2], v)};
}

// Peak finds the largest push across the bag in a stretch, the mean of another
// taken off: counts, Q4, in the bag's frame. It is 0 where nothing moves.
static strikerose_vector_t chain_peak(const strikerose_chain_t *c, const strikerose_stretch_t *s, const strikerose_stretch_t *before)
{
	int32_t base[STRIKEROSE_AXES] = {0};
	int32_t peak[STRIKEROSE_AXES] = {0};
	int32_t samples = stretch_samples(before) / 16;
	if (samples <= 0) {
		samples = 1;
	}
	for (int32_t k = 0; k < 3; k++) {
		base[k] = chain_total(c, before, k, 0) * 16 / samples; // 20 ms are below 2^31
	}
	uint64_t most = 0u;
	for (int32_t j = c->onset + (int32_t)s->first; j <= c->onset + (int32_t)s->last; j++) {
		int32_t v[STRIKEROSE_AXES] = {0};
		for (int32_t k = 0; k < 3; k++) {
			v[k] = chain_unclipped(c, j, k) * 16 - base[k];
		}
		uint64_t now = (uint64_t)((int64_t)v[0] * (int64_t)v[0]) + (uint64_t)((int64_t)v[1] * (int64_t)v[1]);
		if (now > most) {
			most = now;
			for (int32_t k = 0; k < 3; k++) {
				peak[k] = v[k];
			}
		}
	}
	return chain_turned_a(c, peak);
}

// Across is the vector's length across the bag to within 1.4 %; each part is below
// 2^29.
static int32_t vector_across(const strikerose_vector_t *v)
{
	return size(v->x, v->y);
}

void strikerose_restart(strikerose_t *d)
{
	chain_start(&d->chain);
	d->count = 0u;
	d->given = 0;
	d->waiting = 0;
}

uint8_t strikerose_next(strikerose_t *d, strikerose_event_t *e)
{
	if (d->waiting == 0) {
		return 0;
	}
	*e = d->queue[0];
	d->waiting--;
	for (int32_t i = 0, i_end = d->waiting; i < i_end; i++) {
		d->queue[i] = d->queue[i + 1];
	}
	return 1;
}

// put queues an event.
static void detector_put(strikerose_t *d, const strikerose_event_t *e)
{
	if (d->waiting < STRIKEROSE_MOST_WAITING) {
		d->queue[d->waiting] = *e;
		d->waiting++;
	}
}

// place says when a strike was, and what its window lacks.
static void detector_place(const strikerose_t *d, strikerose_event_t *e, int32_t post)
{
	e->t_raw = chain_stamp(&d->chain, chain_onset(&d->chain));
	if (chain_clipped(&d->chain)) {
		e->flags = (uint8_t)(e->flags | STRIKEROSE_CLIPPED);
	}
	if (chain_near_gap(&d->chain, post)) {
		e->flags = (uint8_t)(e->flags | STRIKEROSE_NEAR_GAP);
	}
}

// pulse finds the largest push and states its size.
static strikerose_vector_t detector_pulse(const strikerose_t *d, strikerose_event_t *e)
{
	strikerose_vector_t push = chain_peak(&d->chain, &(&strikerose_table)->pulse, &(&strikerose_table)->quiet);
	// Both have 16 bits once the push is in counts, but for clipped ones.
	uint32_t size = min_uint32((uint32_t)vector_across(&push) >> 4, 0x1ffffu);
	e->peak = (uint16_t)min_uint32((size * (uint32_t)(&strikerose_table)->peak_scale) >> 12, 65535u);
	return push;
}

// ddeg states a bearing in tenths of a degree, 0 to 3599.
static void detector_ddeg(const strikerose_t *d, strikerose_event_t *e, int32_t ddeg)
{
	(void)d;
	e->bearing_ddeg = (uint16_t)ddeg;
	int32_t faces = (&strikerose_table)->faces;
	if (faces <= 0) {
		faces = 1;
	}
	e->face = (uint8_t)((ddeg * faces + 1800) / 3600 % faces + 1);
	if ((&strikerose_table)->wide != 0) {
		e->flags = (uint8_t)(e->flags | STRIKEROSE_UNSURE);
	}
}

// angle states a bearing by its binary angle, before yaw.
static void detector_angle(const strikerose_t *d, strikerose_event_t *e, int32_t angle)
{
	detector_ddeg(d, e, fixed_decideg((int32_t)((uint32_t)angle + (uint32_t)(&strikerose_table)->yaw)));
}

// bearing states the bearing of a direction, x toward bearing 90 and y toward
// bearing 0, both below 2^31 in size. One without length is a guess.
static void detector_bearing(const strikerose_t *d, strikerose_event_t *e, int32_t x, int32_t y)
{
	detector_angle(d, e, fixed_atan2(x, y));
	if (x == 0 && y == 0) {
		e->certainty = STRIKEROSE_GUESS;
		e->flags = (uint8_t)(e->flags | STRIKEROSE_UNSURE);
	}
}

// height states a height, Q4 mm, held to the bag.
static void detector_height(const strikerose_t *d, strikerose_event_t *e, int32_t q4)
{
	(void)d;
	e->height_mm = (int16_t)((min_int32(max_int32(q4, 0), (&strikerose_table)->length) + 8) >> 4);
}

// weak marks an answer whose velocity changes are hardly more than noise.
static void detector_weak(const strikerose_t *d, strikerose_event_t *e, uint32_t kick)
{
	(void)d;
	if (kick < (uint32_t)(&strikerose_table)->weak) {
		e->flags = (uint8_t)(e->flags | STRIKEROSE_UNSURE);
		if (e->certainty == STRIKEROSE_USUAL) {
			e->certainty = STRIKEROSE_WEAK;
		}
	}
}

// peak answers against the largest push.
static void detector_peak(const strikerose_t *d, strikerose_event_t *e, const strikerose_vector_t *push)
{
	detector_bearing(d, e, -push->x, -push->y);
	detector_height(d, e, (&strikerose_table)->middle);
	detector_weak(d, e, (uint32_t)e->peak);
}

// answer says where the strike at hand landed.
static void detector_answer(strikerose_t *d, strikerose_event_t *e)
{
	const strikerose_table_t *t = (&strikerose_table);
	(void)t;
	strikerose_vector_t push = detector_pulse(d, e);
	detector_peak(d, e, &push);
}

// soon says early where it seems to have landed.
static void detector_soon(const strikerose_t *d, strikerose_event_t *e)
{
	const strikerose_table_t *t = (&strikerose_table);
	(void)t;
	strikerose_vector_t push = detector_pulse(d, e);
	detector_bearing(d, e, -push.x, -push.y);
}

// step takes the newest reading through the chain and answers.
static void detector_step(strikerose_t *d)
{
	strikerose_told_t told = chain_step(&d->chain);
	if ((told & STRIKEROSE_TOLD_EARLY) != 0) {
		d->count++;
		d->given = 1;
		d->early = (strikerose_event_t){.number = d->count, .height_mm = -1, .stage = STRIKEROSE_EARLY};
		detector_soon(d, &d->early);
		detector_place(d, &d->early, (&strikerose_table)->chain.soon);
		detector_put(d, &d->early);
	}
	if ((told & STRIKEROSE_TOLD_RETRACT) != 0 && d->given) {
		d->given = 0;
		d->early.stage = STRIKEROSE_FINAL;
		d->early.flags = STRIKEROSE_RETRACTED;
		detector_put(d, &d->early);
	}
	if ((told & STRIKEROSE_TOLD_FINAL) != 0) {
		if (!d->given) {
			d->count++;
		}
		d->given = 0;
		strikerose_event_t e = (strikerose_event_t){.number = d->count, .stage = STRIKEROSE_FINAL};
		detector_answer(d, &e);
		detector_place(d, &e, (&strikerose_table)->chain.post);
		detector_put(d, &e);
	}
}

// end closes a segment.
static void detector_end(strikerose_t *d)
{
	if (chain_begun(&d->chain)) {
		for (int32_t i = 0; i < STRIKEROSE_LOOKAHEAD || chain_busy(&d->chain); i++) {
			chain_pad(&d->chain);
			detector_step(d);
		}
	}
	chain_restart(&d->chain);
}

uint8_t strikerose_push(strikerose_t *d, const strikerose_sample_t *s, strikerose_event_t *e)
{
	strikerose_sample_t x = {0};
	chain_sort(&d->chain, s, &x);
	int32_t lost = chain_lost(&d->chain, &x);
	if (lost < 0) {
		detector_end(d);
	}
	if (lost > 0) {
		strikerose_sample_t from = {0};
		chain_newest(&d->chain, &from);
		for (int32_t j = 0, j_end = lost; j < j_end; j++) {
			chain_fill(&d->chain, &x, &from, j + 1, lost + 1);
			detector_step(d);
		}
	}
	chain_take(&d->chain, &x);
	detector_step(d);
	return strikerose_next(d, e);
}

uint8_t strikerose_flush(strikerose_t *d, strikerose_event_t *e)
{
	detector_end(d);
	return strikerose_next(d, e);
}

// The checksum of the table: CRC-16/CCITT-FALSE over its bytes.
static uint16_t table_crc(void)
{
	const uint8_t *at = (const uint8_t *)&strikerose_table;
	uint32_t crc = 0xFFFFu;

	for (uint32_t i = 0; i < (uint32_t)sizeof strikerose_table; i++) {
		crc ^= (uint32_t)at[i] << 8;
		for (uint32_t bit = 0; bit < 8u; bit++) {
			crc = (crc << 1) ^ ((crc & 0x8000u) != 0u ? 0x1021u : 0u);
		}
		crc &= 0xFFFFu;
	}
	return (uint16_t)crc;
}

int strikerose_init(strikerose_t *d)
{
	memset(d, 0, sizeof *d);
	if (strikerose_table_layout != STRIKEROSE_LAYOUT) {
		return STRIKEROSE_OTHER_TABLE;
	}
	if (table_crc() != strikerose_table_crc) {
		return STRIKEROSE_DAMAGED_TABLE;
	}
	strikerose_restart(d);
	return STRIKEROSE_READY;
}
