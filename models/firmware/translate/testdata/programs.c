#include <string.h>
#include <math.h>
#include "programs.h"

// Signed numbers are of two's complement, and shift to the right by their sign.
typedef char tt_signed_numbers[(-1 >> 1) == -1 && (int32_t)0xffffffffu == -1 ? 1 : -1];

#define TT_BIG INT64_C(1099511627776)
#define TT_MASK32 INT64_C(0xffffffff)
#define TT_MASK16 0xffff
#define TT_LEAST (-2147483647 - 1)
#define TT_LEAST8 (-INT64_C(9223372036854775807) - 1)
#define TT_THIRD 3.0f
#define TT_ODD 1.6777216e+07f
#define TT_LONG INT64_C(0xffffffff)
#define TT_LATE 7
#define TT_NEVER 0
#define TT_PERHAPS 1
#define TT_ALWAYS 2

// A row of turns lengthens a vector by 1.646760258.
#define TT_FIXED_SHORTEN_Q31 1304065748 // 1/1.646760258
#define TT_FIXED_START_Q30 652032874
#define TT_FIXED_HALF_TURN 2147483648u

// Factors of a power of 2: 2^u = 1 + u (a + u (b + u (c + u (d + u e)))), Q30,
// within 3.1e-7 on 0 to 1 and exact at its ends.
#define TT_FIXED_POWER1 744262866
#define TT_FIXED_POWER2 257883723
#define TT_FIXED_POWER3 59927255
#define TT_FIXED_POWER4 9631670
#define TT_FIXED_POWER5 2036310
#define TT_FIXED_LOG2E_Q30 1549082005 // logarithm of e to base 2

// Limits of the signed types.
#define TT_FIXED_MAX16 32767
#define TT_FIXED_MIN16 (-32768)
#define TT_FIXED_MAX32 2147483647
#define TT_FIXED_MIN32 (-2147483647 - 1)
#define TT_FIXED_MAX64 INT64_C(9223372036854775807)
#define TT_FIXED_MIN64 (-INT64_C(9223372036854775807) - 1)
#define TT_FIXED_ONE30 1073741824
#define TT_FIXED_THIRD30 357913941
#define TT_FIXED_EIGHT24 134217728

// pair is a struct that is passed whole.
typedef struct {
	int32_t x;
	int32_t y;
	uint8_t ok;
} tt_pair_t;

typedef struct {
	tt_pair_t first;
	tt_pair_t list[2];
	uint16_t number;
} tt_nested_t;

typedef uint8_t tt_verdict_t;

typedef int32_t tt_q8_t;

// Vector has two parts of one unit; what they point to is up to the caller.
typedef struct {
	int32_t x;
	int32_t y;
} tt_fixed_vector_t;

static const int32_t brackets[3] = {
	3, -4, 5,
};

static const int32_t table[5] = {
	1, -2, 30000, TT_LEAST, 0x7fffffff,
};

static const int16_t rows[2][3] = {
	{1, 2, 3}, {-4, -32768, 32767},
};

static const tt_pair_t pairs[2] = {
	{.x = 1, .y = -2, .ok = 1}, {.y = 7},
};

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

// tanhs are the hyperbolic tangents of i/8, Q30.
static const int32_t fixed_tanhs[65] = {
	0, 133523019, 262979411, 384783327, 496194519, 595496917, 681985995, 755812887, 817755498,
	868980407, 910837623, 944706725, 971895537, 993582944, 1010794288, 1024398298, 1035116732,
	1043540415, 1050147544, 1055321814, 1059369036, 1062531689, 1065001270, 1066928539, 1068431906,
	1069604193, 1070518060, 1071230320, 1071785356, 1072217818, 1072554741, 1072817210, 1073021665,
	1073180922, 1073304968, 1073401585, 1073476836, 1073535446, 1073581093, 1073616644, 1073644333,
	1073665897, 1073682692, 1073695771, 1073705958, 1073713891, 1073720070, 1073724882, 1073728629,
	1073731548, 1073733821, 1073735591, 1073736970, 1073738044, 1073738880, 1073739531, 1073740038,
	1073740433, 1073740741, 1073740980, 1073741167, 1073741312, 1073741426, 1073741514, 1073741582,
};

static int32_t max_int32(int32_t a, int32_t b)
{
	return a > b ? a : b;
}

static int64_t max_int64(int64_t a, int64_t b)
{
	return a > b ? a : b;
}

static int32_t min_int32(int32_t a, int32_t b)
{
	return a < b ? a : b;
}

static int64_t min_int64(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

static uint32_t min_uint32(uint32_t a, uint32_t b)
{
	return a < b ? a : b;
}

static uint8_t min_uint8(uint8_t a, uint8_t b)
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
		angle = (int32_t)(TT_FIXED_HALF_TURN - (uint32_t)angle);
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

// spin turns a vector shorter than 2^30 and lengthens it as turns do.
static tt_fixed_vector_t fixed_spin(int32_t x, int32_t y, int32_t angle)
{
	if (angle > 1073741824 || angle < -1073741824) { // past a quarter turn: from the other side
		angle = (int32_t)((uint32_t)angle - TT_FIXED_HALF_TURN);
		x = -x;
		y = -y;
	}
	for (int_fast16_t i = 0; i < 20; i++) {
		int32_t step = x >> i;
		if (angle >= 0) {
			x -= y >> i;
			y += step;
			angle -= fixed_turns[i];
		} else {
			x += y >> i;
			y -= step;
			angle += fixed_turns[i];
		}
	}
	return (tt_fixed_vector_t){.x = x, .y = y};
}

// Round32 is x over 2^shift, half up. shift is 0 to 31.
static int32_t fixed_round32(int32_t x, uint32_t shift)
{
	if (shift == 0u) {
		return x;
	}
	return (x >> (shift & 31u)) + ((x >> ((shift - 1u) & 31u)) & 1);
}

// Round64 is x over 2^shift, half up. shift is 0 to 63.
static int64_t fixed_round64(int64_t x, uint32_t shift)
{
	if (shift == 0u) {
		return x;
	}
	return (x >> (shift & 63u)) + ((x >> ((shift - 1u) & 63u)) & 1);
}

// Sat32 holds a number to the range of int32.
static int32_t fixed_sat32(int64_t x)
{
	if (x > TT_FIXED_MAX32) {
		return TT_FIXED_MAX32;
	}
	if (x < TT_FIXED_MIN32) {
		return TT_FIXED_MIN32;
	}
	return (int32_t)x;
}

// Mul is a b / 2^shift, half up, saturated. shift is 0 to 63.
static int32_t fixed_mul(int32_t a, int32_t b, uint32_t shift)
{
	return fixed_sat32(fixed_round64((int64_t)a * (int64_t)b, shift));
}

// Turn turns a vector anticlockwise (x toward y) by a binary angle. The
// result's error is below 2 units and 4 millionths of the length. The vector is
// shorter than 2^30.
static tt_fixed_vector_t fixed_turn(tt_fixed_vector_t v, int32_t angle)
{
	uint32_t bits = fixed_bits32(fixed_size32(v.x) | fixed_size32(v.y));
	uint32_t up = 0u;
	if (bits < 29u) {
		up = 29u - bits;
	}
	int32_t x = (int32_t)((uint32_t)v.x << (up & 31u));
	int32_t y = (int32_t)((uint32_t)v.y << (up & 31u));
	tt_fixed_vector_t out = fixed_spin(x, y, angle);
	out.x = fixed_round32(fixed_mul(out.x, TT_FIXED_SHORTEN_Q31, 31u), up);
	out.y = fixed_round32(fixed_mul(out.y, TT_FIXED_SHORTEN_Q31, 31u), up);
	return out;
}

// SinCos is the unit vector at a binary angle in Q30: X the cosine, Y the
// sine, to 0.000004.
static tt_fixed_vector_t fixed_sin_cos(int32_t angle)
{
	return fixed_spin(TT_FIXED_START_Q30, 0, angle);
}

// CRC16 continues the check CRC-16/CCITT-FALSE (polynomial 0x1021, not
// reflected) over n bytes. It begins with 0xffff.
static uint16_t fixed_crc16(const uint8_t *data, int32_t n, uint16_t crc)
{
	uint32_t sum = (uint32_t)crc;
	for (int32_t i = 0; i < n; i++) {
		sum ^= (uint32_t)data[i] << 8;
		for (int32_t round1 = 0; round1 < 8; round1++) {
			if ((sum & 0x8000u) != 0u) {
				sum = (sum << 1) ^ 0x1021u;
			} else {
				sum <<= 1;
			}
		}
		sum &= 0xffffu;
	}
	return (uint16_t)sum;
}

// CRC16Word continues the check over a number of 32 bits, its highest byte
// first: of tables whose numbers are not bytes.
static uint16_t fixed_crc16_word(uint32_t x, uint16_t crc)
{
	uint32_t sum = (uint32_t)crc;
	for (uint32_t shift = 32u; shift > 0u;) {
		shift -= 8u;
		sum ^= ((x >> (shift & 31u)) & 0xffu) << 8;
		for (int32_t round1 = 0; round1 < 8; round1++) {
			if ((sum & 0x8000u) != 0u) {
				sum = (sum << 1) ^ 0x1021u;
			} else {
				sum <<= 1;
			}
		}
		sum &= 0xffffu;
	}
	return (uint16_t)sum;
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
			return TT_FIXED_MIN64;
		}
		return TT_FIXED_MAX64;
	}
	uint64_t q = size / by;
	{
		uint64_t rest = size % by;
		if (rest >= by - rest) {
			q++;
		}
	}
	if (minus) {
		if (q > (uint64_t)TT_FIXED_MAX64) {
			return TT_FIXED_MIN64;
		}
		return -((int64_t)q);
	}
	if (q > (uint64_t)TT_FIXED_MAX64) {
		return TT_FIXED_MAX64;
	}
	return (int64_t)q;
}

// Div is a / b, half away from 0, saturated to int32. By 0 it does as Div64.
static int32_t fixed_div(int64_t a, int32_t b)
{
	return fixed_sat32(fixed_div64(a, (int64_t)b));
}

// Div32 is a / b, half away from 0, saturated, in 32 bits alone. By 0 it gives
// the limit on a's side, and 0 for 0 / 0.
static int32_t fixed_div32(int32_t a, int32_t b)
{
	uint8_t minus = (a < 0) != (b < 0);
	uint32_t size = fixed_size32(a);
	uint32_t by = fixed_size32(b);
	if (by == 0u) {
		if (a == 0) {
			return 0;
		}
		if (a < 0) {
			return TT_FIXED_MIN32;
		}
		return TT_FIXED_MAX32;
	}
	uint32_t q = size / by;
	{
		uint32_t rest = size % by;
		if (rest >= by - rest) {
			q++;
		}
	}
	if (minus) {
		if (q > (uint32_t)TT_FIXED_MAX32) {
			return TT_FIXED_MIN32;
		}
		return -((int32_t)q);
	}
	if (q > (uint32_t)TT_FIXED_MAX32) {
		return TT_FIXED_MAX32;
	}
	return (int32_t)q;
}

// RoundF is the nearest integer, half away from 0, held to low and high, which
// lie within 2^30. No number gives low.
static int32_t fixed_round_f(float x, int32_t low, int32_t high)
{
	if (!(x > (float)low)) {
		return low;
	}
	if (x >= (float)high) {
		return high;
	}
	int32_t whole = (int32_t)x; // between low and high; toward 0
	float rest = x - (float)whole;
	if (rest >= 0.5f) {
		whole++;
	}
	if (rest <= -0.5f) {
		whole--;
	}
	return min_int32(max_int32(whole, low), high);
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
	int32_t p = TT_FIXED_POWER4 + fixed_mul(u, TT_FIXED_POWER5, 30u);
	p = TT_FIXED_POWER3 + fixed_mul(u, p, 30u);
	p = TT_FIXED_POWER2 + fixed_mul(u, p, 30u);
	p = TT_FIXED_POWER1 + fixed_mul(u, p, 30u);
	uint64_t full = (uint64_t)(1073741824 + fixed_mul(u, p, 30u)) << 1; // Q31, 1 to 2
	return (uint32_t)fixed_round64((int64_t)full, down);
}

// Exp is e^x in Q31 for x of Q24, at most 0; above 0 it is as at 0. It is
// within 5e-7 of the value, and 1 unit.
static uint32_t fixed_exp(int32_t x)
{
	if (x >= 0) {
		return 2147483648u;
	}
	return fixed_exp2(fixed_mul(x, TT_FIXED_LOG2E_Q30, 30u));
}

// Sat16 holds a number to the range of int16.
static int16_t fixed_sat16(int32_t x)
{
	if (x > TT_FIXED_MAX16) {
		return TT_FIXED_MAX16;
	}
	if (x < TT_FIXED_MIN16) {
		return TT_FIXED_MIN16;
	}
	return (int16_t)x;
}

// MulQ15 is the product of two Q15. -1 times -1, which is none, gives the
// greatest.
static int16_t fixed_mul_q15(int16_t a, int16_t b)
{
	return fixed_sat16(((int32_t)a * (int32_t)b + 16384) >> 15);
}

// MulQ31 is the product of two Q31. -1 times -1, which is none, gives the
// greatest.
static int32_t fixed_mul_q31(int32_t a, int32_t b)
{
	return fixed_sat32(((int64_t)a * (int64_t)b + INT64_C(1073741824)) >> 31);
}

// MulSat64 is a b, saturated.
static int64_t fixed_mul_sat64(int64_t a, int64_t b)
{
	uint64_t sa = fixed_size64(a);
	uint64_t sb = fixed_size64(b);
	uint64_t high = (sa >> 32) * (sb & UINT64_C(0xffffffff)) + (sb >> 32) * (sa & UINT64_C(0xffffffff)); // where over is false, one of the two is 0
	uint64_t low = (sa & UINT64_C(0xffffffff)) * (sb & UINT64_C(0xffffffff));
	uint8_t minus = (a < 0) != (b < 0);
	uint8_t over = (sa >> 32 != 0u && sb >> 32 != 0u) || high >> 32 != 0u;
	uint64_t size = (high << 32) + low;
	if (over || size < low || size > (uint64_t)TT_FIXED_MAX64) {
		if (minus) {
			return TT_FIXED_MIN64;
		}
		return TT_FIXED_MAX64;
	}
	if (minus) {
		return -((int64_t)size);
	}
	return (int64_t)size;
}

// Sqrt32 is the square root, rounded down: one binary digit a round, as on
// paper.
static uint32_t fixed_sqrt32(uint32_t x)
{
	uint32_t root = 0u;
	for (uint32_t bit = 1073741824u; bit != 0u; bit >>= 2) {
		if (x >= root + bit) {
			x -= root + bit;
			root = (root >> 1) + bit;
		} else {
			root >>= 1;
		}
	}
	return root;
}

// Sqrt64 is the square root, rounded down.
static uint32_t fixed_sqrt64(uint64_t x)
{
	uint64_t root = 0u;
	for (uint64_t bit = UINT64_C(4611686018427387904); bit != 0u; bit >>= 2) {
		if (x >= root + bit) {
			x -= root + bit;
			root = (root >> 1) + bit;
		} else {
			root >>= 1;
		}
	}
	return (uint32_t)root;
}

// Hypot is the length of a vector, to the nearest integer.
static uint32_t fixed_hypot(int32_t x, int32_t y)
{
	uint64_t sx = (uint64_t)fixed_size32(x);
	uint64_t sy = (uint64_t)fixed_size32(y);
	uint64_t square = sx * sx + sy * sy; // at most 2^63
	uint32_t root = fixed_sqrt64(square);
	if (square - (uint64_t)root * (uint64_t)root > (uint64_t)root) {
		root++; // nearer the next: (r + 1/2)^2 = r^2 + r + 1/4
	}
	return root;
}

// Abs32 is the size of a number; of the least one the greatest.
static int32_t fixed_abs32(int32_t x)
{
	if (x >= 0) {
		return x;
	}
	if (x == TT_FIXED_MIN32) {
		return TT_FIXED_MAX32;
	}
	return -x;
}

// AddSat32 is a + b, saturated.
static int32_t fixed_add_sat32(int32_t a, int32_t b)
{
	if (b > 0 && a > TT_FIXED_MAX32 - b) {
		return TT_FIXED_MAX32;
	}
	if (b < 0 && a < TT_FIXED_MIN32 - b) {
		return TT_FIXED_MIN32;
	}
	return a + b;
}

// SubSat32 is a - b, saturated.
static int32_t fixed_sub_sat32(int32_t a, int32_t b)
{
	if (b < 0 && a > TT_FIXED_MAX32 + b) {
		return TT_FIXED_MAX32;
	}
	if (b > 0 && a < TT_FIXED_MIN32 + b) {
		return TT_FIXED_MIN32;
	}
	return a - b;
}

// AddSat64 is a + b, saturated.
static int64_t fixed_add_sat64(int64_t a, int64_t b)
{
	if (b > 0 && a > TT_FIXED_MAX64 - b) {
		return TT_FIXED_MAX64;
	}
	if (b < 0 && a < TT_FIXED_MIN64 - b) {
		return TT_FIXED_MIN64;
	}
	return a + b;
}

// SubSat64 is a - b, saturated.
static int64_t fixed_sub_sat64(int64_t a, int64_t b)
{
	if (b < 0 && a > TT_FIXED_MAX64 + b) {
		return TT_FIXED_MAX64;
	}
	if (b > 0 && a < TT_FIXED_MIN64 + b) {
		return TT_FIXED_MIN64;
	}
	return a - b;
}

// ShiftUp32 is x times 2^n, saturated. n is 0 to 31.
static int32_t fixed_shift_up32(int32_t x, uint32_t n)
{
	if (x > (int32_t)TT_FIXED_MAX32 >> (n & 31u)) {
		return TT_FIXED_MAX32;
	}
	if (x < (int32_t)TT_FIXED_MIN32 >> (n & 31u)) {
		return TT_FIXED_MIN32;
	}
	return (int32_t)((uint32_t)x << (n & 31u));
}

// Tanh is the hyperbolic tangent in Q30 of x in Q24, to 0.000003: the series
// about the nearest point of a table, whose slope is 1 less the square.
static int32_t fixed_tanh(int32_t x)
{
	int32_t size = fixed_abs32(x);
	if (size >= TT_FIXED_EIGHT24) {
		if (x < 0) {
			return -1073741824;
		}
		return TT_FIXED_ONE30;
	}
	int32_t i = (size + 1048576) >> 21;
	int32_t d = (size - i * 2097152) * 64; // Q30, within 1/16
	int32_t t = fixed_tanhs[i];
	int32_t square = fixed_mul(t, t, 30u);
	int32_t slope = TT_FIXED_ONE30 - square;
	// t + d slope (1 + d (-t + d (square - 1/3)))
	int32_t bend = fixed_mul(d, square - TT_FIXED_THIRD30, 30u) - t;
	int32_t out = t + fixed_mul(d, fixed_mul(slope, TT_FIXED_ONE30 + fixed_mul(d, bend, 30u), 30u), 30u);
	if (x < 0) {
		return -out;
	}
	return out;
}

void run_wrap32(const tt_words_t *in, tt_words_t *out)
{
	uint32_t a = (uint32_t)in->v[0];
	uint32_t b = (uint32_t)in->v[1];
	out->v[0] = (int64_t)(a + b);
	out->v[1] = (int64_t)(a - b);
	out->v[2] = (int64_t)(a * b);
	out->v[3] = (int64_t)(int32_t)(a - b);
	out->v[4] = (int64_t)(0u - a);
	a += b * 3u;
	a -= 7u;
	a *= b;
	a++;
	out->v[5] = (int64_t)a;
	out->v[6] = (int64_t)((int32_t)((uint32_t)in->v[2] - (uint32_t)in->v[3]) >> 3);
}

void run_wrap64(const tt_words_t *in, tt_words_t *out)
{
	uint64_t a = (uint64_t)in->v[0];
	uint64_t b = (uint64_t)in->v[1];
	out->v[0] = (int64_t)(a + b);
	out->v[1] = (int64_t)(a - b);
	out->v[2] = (int64_t)(a * b);
	out->v[3] = (int64_t)(0u - a);
	out->v[4] = (int64_t)(a * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407));
}

void run_narrow(const tt_words_t *in, tt_words_t *out)
{
	uint8_t a = (uint8_t)in->v[0];
	uint8_t b = (uint8_t)in->v[1];
	uint16_t c = (uint16_t)in->v[2];
	uint16_t d = (uint16_t)in->v[3];
	int8_t e = (int8_t)in->v[4];
	int16_t f = (int16_t)in->v[5];
	out->v[0] = (int64_t)(uint8_t)(a + b);
	out->v[1] = (int64_t)(uint8_t)(a - b);
	out->v[2] = (int64_t)(uint16_t)(c + d);
	out->v[3] = (int64_t)(uint16_t)(c - d);
	a = (uint8_t)(a | b);
	a = (uint8_t)(a & ~(uint8_t)0x11);
	a++;
	c = (uint16_t)(c ^ d);
	c = (uint16_t)(c - 9);
	c = (uint16_t)(c + (uint16_t)a);
	d--;
	out->v[4] = (int64_t)a;
	out->v[5] = (int64_t)c + (int64_t)d * 2;
	out->v[6] = (int64_t)((int32_t)e * (int32_t)f) + (int64_t)(a >> 2) + (int64_t)(c >> 5);
	if (a > b || (e < 0 && f < -5) || c == d) {
		out->v[7] = (int64_t)e - (int64_t)f;
	}
}

void run_bits(const tt_words_t *in, tt_words_t *out)
{
	uint32_t a = (uint32_t)in->v[0];
	uint32_t b = (uint32_t)in->v[1];
	int64_t c = in->v[2];
	int64_t d = in->v[3];
	out->v[0] = (int64_t)(a & b);
	out->v[1] = (int64_t)((a | b) ^ 0xf0f0f0f0u);
	out->v[2] = (int64_t)(a & ~b);
	out->v[3] = (int64_t)~a;
	out->v[4] = (c & d) ^ ~d;
	out->v[5] = c | (d & INT64_C(0xffff));
	out->v[6] = c & ~(d | 1);
	a &= b;
	a |= 0x80000000u;
	a ^= 3u;
	a = a & ~(uint32_t)2u;
	uint64_t wide = (uint64_t)c & ~(uint64_t)5u;
	wide = wide & ~(uint64_t)7u;
	out->v[7] = (int64_t)a + (int64_t)(wide & ~(uint64_t)UINT64_C(0x8000));
}

void run_shifts(const tt_words_t *in, tt_words_t *out)
{
	uint32_t n = (uint32_t)in->v[1];
	int32_t x = (int32_t)in->v[0];
	uint32_t u = (uint32_t)in->v[0];
	out->v[0] = (int64_t)(x >> 5);
	out->v[1] = (int64_t)(x >> (n & 31u));
	out->v[2] = (int64_t)(u << (n & 31u));
	out->v[3] = in->v[2] >> (n & 63u);
	out->v[4] = (int64_t)((uint64_t)in->v[2] << (n & 63u));
	out->v[5] = (int64_t)(((uint32_t)1u << (n & 31u)) | (u >> 31));
	out->v[6] = (int64_t)((uint64_t)1u << min_uint32(n, 63u));
	uint32_t sum = 0u;
	for (int32_t i = 0; i < 32; i++) {
		sum += (u >> i) << 1;
	}
	u <<= 3;
	u >>= n & 7u;
	out->v[7] = (int64_t)(sum ^ u);
}

void run_divide(const tt_words_t *in, tt_words_t *out)
{
	int64_t a = in->v[0];
	int64_t b = in->v[1];
	uint32_t u = (uint32_t)in->v[2];
	uint32_t v = (uint32_t)in->v[3];
	out->v[0] = a / 1000;
	out->v[1] = a % 1000;
	out->v[2] = a / -7;
	if (b > 0) {
		out->v[3] = a / b;
		out->v[4] = a % b;
	}
	if (v == 0u) {
		v = 1u;
	}
	out->v[5] = (int64_t)(u / v) + (int64_t)(u % v);
	out->v[6] = a / max_int64(b, 1);
	int32_t d = (int32_t)in->v[4];
	if (d < 1) {
		return;
	}
	out->v[7] = (int64_t)((int32_t)in->v[5] / d) + a / (3 * (int64_t)d);
}

void run_compare(const tt_words_t *in, tt_words_t *out)
{
	int32_t a = (int32_t)in->v[0];
	int32_t b = (int32_t)in->v[1];
	int64_t bits = 0;
	if (a < b) {
		bits |= 1;
	}
	if ((uint32_t)a < (uint32_t)b) {
		bits |= 2;
	}
	if (a >= b || in->v[0] != in->v[1]) {
		bits |= 4;
	}
	if ((in->v[2] <= in->v[3]) == (a > 0)) {
		bits |= 8;
	}
	uint8_t above = (uint64_t)in->v[2] > (uint64_t)in->v[3];
	if (above) {
		bits |= 16;
	}
	if (!above && a == b) {
		bits |= 32;
	}
	out->v[0] = bits;
}

void run_convert(const tt_words_t *in, tt_words_t *out)
{
	int64_t x = in->v[0];
	out->v[0] = (int64_t)(int8_t)x + (int64_t)(uint8_t)x;
	out->v[1] = (int64_t)(int16_t)x + (int64_t)(uint16_t)x;
	out->v[2] = (int64_t)(int32_t)x + (int64_t)(uint32_t)x;
	out->v[3] = (int64_t)((uint64_t)x >> 1);
	out->v[4] = (int64_t)(uint32_t)(int8_t)x;
	out->v[5] = (int64_t)((uint64_t)(int32_t)x >> 8);
	out->v[6] = (int64_t)(uint16_t)((int32_t)x >> 8);
	out->v[7] = (int64_t)(int32_t)(uint8_t)x - (int64_t)(int8_t)(uint8_t)x;
}

void run_literals(const tt_words_t *in, tt_words_t *out)
{
	int64_t x = in->v[0];
	uint32_t u = (uint32_t)in->v[1];
	out->v[0] = (x & TT_MASK32) | TT_BIG;
	out->v[1] = (int64_t)(u & (uint32_t)TT_MASK32);
	out->v[2] = (int64_t)((u & (uint32_t)TT_MASK16) + 65536u);
	if (x > TT_LEAST && x != TT_LEAST8) {
		out->v[3] = TT_LEAST;
	}
	out->v[4] = TT_LEAST8 + (x & 0xff);
	out->v[5] = (int64_t)((uint64_t)x ^ UINT64_C(0x8000000000000000));
	out->v[6] = 92 - x % INT64_C(4294967296);
	if ((int32_t)x == TT_LEAST) {
		out->v[7] = INT64_C(40000) * (x & 3);
	}
	out->v[7] += (int64_t)(u % 3000000000u);
}

void run_whole(const tt_words_t *in, tt_words_t *out)
{
	int64_t x = in->v[0] >> 8;
	out->v[0] = x * 3 + INT64_C(16777217);
	out->v[1] = x / 100 + 16 * x;
	out->v[2] = (int64_t)(((uint32_t)x * 16u) ^ 3u);
	float a = (float)(int32_t)in->v[1];
	out->v[3] = (int64_t)fixed_round_f((float)(a * TT_THIRD) + TT_ODD - (float)TT_LONG, -1073741824, 1073741824);
	out->v[4] = (int64_t)brackets[(uint32_t)x % 3u];
	out->v[5] = (x >> 2) ^ (in->v[1] >> 3) ^ in->v[2];
	uint32_t u = (uint32_t)x << 4;
	u >>= 1;
	out->v[6] = (int64_t)(u ^ ((u - (uint32_t)x) >> 3));
}

void run_precedence(const tt_words_t *in, tt_words_t *out)
{
	uint32_t a = (uint32_t)in->v[0];
	uint32_t b = (uint32_t)in->v[1];
	uint32_t c = (uint32_t)in->v[2];
	out->v[0] = (int64_t)((a & b) + c);
	out->v[1] = (int64_t)((a << 2) + b);
	out->v[2] = (int64_t)(a + ((b << 3) & c));
	out->v[3] = (int64_t)(a - (b - c) - 1u);
	out->v[4] = (int64_t)(a * (b * c) + a / ((b / 3u) | 1u) * c);
	out->v[5] = (int64_t)((a ^ b) | (c & a));
	if ((a & b) == (c & b) || ((a | b) != c && a < b)) {
		out->v[6] = 1;
	}
	out->v[7] = (int64_t)((a % (b | 1u)) & c) - (int64_t)(~a & ~b);
}

void run_loops(const tt_words_t *in, tt_words_t *out)
{
	int32_t n = (int32_t)(in->v[0] & 31);
	int64_t sum = 0;
	for (int32_t i = 0; i < n; i++) {
		if ((i & 3) == 2) {
			continue;
		}
		sum += (int64_t)i * (int64_t)i;
		if (sum > 5000) {
			break;
		}
	}
	out->v[0] = sum;
	for (int32_t i = 0, i_end = n; i < i_end; i++) {
		n += i & 1; // changes nothing: the count was taken
		out->v[1] += (int64_t)n - (int64_t)i;
	}
	for (uint8_t round1 = 0; round1 < 5; round1++) {
		out->v[2] = out->v[2] * 3 + 1;
	}
	while (n > 3) {
		n -= 3;
		out->v[3]++;
	}
	for (;;) {
		n++;
		if (n > 10) {
			break;
		}
	}
	out->v[4] = (int64_t)n;
	int64_t last = 0;
	for (int_fast16_t i = 0; i < 8; i++) {
		const int64_t j = in->v[i];
		if (i > 4) {
			last ^= j;
		}
	}
	out->v[5] = last;
	for (int32_t i = 20; i > 0; i -= 3) {
		for (int32_t j = i; j > 0; j >>= 1) {
			out->v[6] += (int64_t)j;
		}
	}
}

static void total(int32_t a[16], int32_t from, tt_words_t *out)
{
	for (int32_t i = from; i < 16; i++) {
		out->v[1] += (int64_t)a[i];
	}
	a[from] = -1;
}

void run_arrays(const tt_words_t *in, tt_words_t *out)
{
	int32_t a[16] = {0};
	for (int_fast16_t i = 0; i < 16; i++) {
		a[i] = (int32_t)(in->v[(int32_t)i & 7] >> i);
	}
	uint32_t at = (uint32_t)in->v[0] & 15u;
	a[at] = 5;
	int64_t sum = 0;
	for (int_fast16_t i = 0; i < 16; i++) {
		sum += (int64_t)a[i];
	}
	out->v[0] = sum;
	total(a, 3, out);
	out->v[2] = (int64_t)a[(at + 1u) & 15u];
}

static void spread(int64_t g[3][4], const tt_words_t *in)
{
	for (int32_t i = 0; i < 3; i++) {
		for (int32_t j = 0; j < 4; j++) {
			g[i][j] = in->v[(i * 4 + j) & 7] >> i;
		}
	}
}

static int64_t row(const int64_t r[4])
{
	return r[0] ^ r[3];
}

void run_grid(const tt_words_t *in, tt_words_t *out)
{
	int64_t g[3][4] = {0};
	spread(g, in);
	for (int_fast16_t i = 0; i < 3; i++) {
		for (int_fast16_t j = 0; j < 4; j++) {
			out->v[i] += g[i][j] >> 4;
		}
	}
	out->v[4] = row(g[1]);
}

static tt_pair_t pair_swapped(tt_pair_t p)
{
	return (tt_pair_t){.x = p.y, .y = p.x, .ok = !p.ok};
}

static void pair_grow(tt_pair_t *p, int32_t by)
{
	p->x = (int32_t)((uint32_t)p->x + (uint32_t)by);
}

void run_structs(const tt_words_t *in, tt_words_t *out)
{
	tt_pair_t p = (tt_pair_t){.x = (int32_t)in->v[0], .y = (int32_t)in->v[1]};
	tt_pair_t q = pair_swapped(p);
	pair_grow(&q, 7);
	tt_pair_t r = p;
	pair_grow(&r, 9);
	out->v[0] = (int64_t)p.x - (int64_t)q.x + (int64_t)r.x;
	tt_nested_t n = {0};
	n.first = q;
	n.list[1] = pair_swapped(p);
	pair_grow(&n.list[1], p.y);
	n.number = (uint16_t)in->v[2];
	tt_nested_t m = n;
	m.number++;
	out->v[1] = (int64_t)n.list[1].x + (int64_t)m.list[0].y + (int64_t)m.number - (int64_t)n.number;
	n = (tt_nested_t){.number = 3, .first = (tt_pair_t){.y = 5, .ok = 1}};
	out->v[2] = (int64_t)n.first.y + (int64_t)n.list[1].x;
	if (n.first.ok && !p.ok) {
		out->v[3] = (int64_t)pair_swapped(p).x;
	}
	n = (tt_nested_t){0};
	out->v[4] = (int64_t)n.first.y;
}

static tt_pair_t *pick(tt_nested_t *n, uint8_t first)
{
	if (first) {
		return &n->first;
	}
	return &n->list[0];
}

static void add(int64_t *to, int64_t x)
{
	*to = (*to >> 1) + x;
}

void run_pointers(const tt_words_t *in, tt_words_t *out)
{
	tt_nested_t n = {0};
	tt_pair_t *p = &n.list[0];
	if (in->v[0] < 0) {
		p = &n.first;
	}
	p->x = (int32_t)in->v[1];
	pair_grow(p, 3);
	tt_pair_t *q = pick(&n, in->v[2] < 0);
	q->y = (int32_t)in->v[3];
	*p = pair_swapped(*q);
	add(&out->v[0], (int64_t)n.first.x);
	add(&out->v[0], (int64_t)n.first.y);
	add(&out->v[1], (int64_t)n.list[0].x);
	add(&out->v[1], (int64_t)n.list[0].y);
}

static void up(int64_t *p)
{
	(*p)++;
}

static void down(uint8_t *p)
{
	(*p)--;
}

void run_counted(const tt_words_t *in, tt_words_t *out)
{
	int64_t *p = &out->v[1];
	*p = in->v[0] >> 1;
	(*p)++;
	up(&out->v[2]);
	out->v[3] = 5;
	up(&out->v[3]);
	uint8_t b = (uint8_t)in->v[1];
	down(&b);
	out->v[4] = (int64_t)b;
}

static void fill(int32_t *a, int32_t n, int32_t x)
{
	for (int32_t i = 0; i < n; i++) {
		a[i] = (x >> (i & 31)) ^ i;
	}
}

static int64_t dot(const int32_t *a, const int32_t *b, int32_t n)
{
	int64_t sum = 0;
	for (int32_t i = 0; i < n; i++) {
		sum += ((int64_t)a[i] * (int64_t)b[i]) >> 4;
	}
	return sum;
}

void run_slices(const tt_words_t *in, tt_words_t *out)
{
	int32_t a[12] = {0};
	fill(a, 12, (int32_t)in->v[0]);
	fill(&a[4], 5, (int32_t)in->v[1]);
	int32_t from = (int32_t)(in->v[2] & 3);
	out->v[0] = dot(a, &a[from], 9);
	out->v[1] = dot(&a[3], table, 4);
}

void run_switches(const tt_words_t *in, tt_words_t *out)
{
	switch (in->v[0] & 7) {
	case 0:
	case 3: {
		int64_t x = in->v[1] >> 1;
		out->v[0] = x;
		break;
	}
	case 1:
		out->v[0] = 2;
		if (in->v[1] > 0) {
			break;
		}
		out->v[1] = 3;
		break;
	default:
		out->v[0] = -1;
		break;
	case 5:
		break;
	// nothing
	}
	{
		int32_t x = (int32_t)in->v[2];
		if (x > 1000 || x < -1000) {
			out->v[2] = 1;
		} else if (x > 10) {
			out->v[2] = 2;
		} else {
			out->v[2] = 3;
		}
	}
	for (int32_t i = 0; i < 10; i++) {
		switch ((uint8_t)i) {
		case 3:
			continue;
		case TT_LATE:
			return;
		}
		out->v[3] += (int64_t)i;
	}
}

void run_tables(const tt_words_t *in, tt_words_t *out)
{
	uint32_t i = (uint32_t)in->v[0];
	out->v[0] = (int64_t)table[i % 5u];
	out->v[1] = (int64_t)rows[i & 1u][i % 3u];
	for (int_fast16_t round1 = 0; round1 < 5; round1++) {
		const int32_t x = table[round1];
		out->v[2] += (int64_t)x; // the table never changes
	}
	tt_pair_t p = pairs[i & 1u];
	out->v[3] = (int64_t)p.x + (int64_t)pairs[0].y;
	if (p.ok) {
		out->v[4] = 5;
	}
}

void run_extremes(const tt_words_t *in, tt_words_t *out)
{
	out->v[0] = min_int64(in->v[0], in->v[1]);
	out->v[1] = max_int64(max_int64(in->v[0], in->v[1]), 17);
	out->v[2] = (int64_t)min_uint8((uint8_t)in->v[2], (uint8_t)in->v[3]);
	out->v[3] = (int64_t)(max_int32((int32_t)in->v[4], -5) - 1);
	out->v[4] = (int64_t)(min_uint32((uint32_t)in->v[5], 9u) + 1u);
}

void run_shadows(const tt_words_t *in, tt_words_t *out)
{
	int64_t x = in->v[0] >> 1;
	{
		int64_t y = x >> 2;
		if (y > 3) {
			int64_t x = y + 1;
			out->v[0] = x;
		} else {
			int64_t z = y - 1;
			if (z < -9) {
				out->v[0] = z;
			} else {
				out->v[0] = -x;
			}
		}
	}
	{
		int32_t short_ = 3;
		out->v[1] = (int64_t)short_ + x;
	}
	out->v[2] = x;
}

void run_logic(const tt_words_t *in, tt_words_t *out)
{
	int32_t a[4] = {0};
	int64_t i = in->v[0];
	if ((i >= 0 && i < 4 && a[i] == 0) || in->v[1] > 5) {
		out->v[0] = 1;
	}
	uint8_t ok = i > 3 || !(in->v[1] > 2 && in->v[2] < 0);
	if (ok == (in->v[3] > 0)) {
		out->v[1] = 1;
	}
	out->v[2] = in->v[3];
	if (!ok) {
		out->v[2] = -3;
	}
}

static uint64_t random_next(tt_random_t *r)
{
	uint64_t x = r->state;
	x ^= x << 13;
	x ^= x >> 7;
	x ^= x << 17;
	r->state = x;
	return x;
}

static uint8_t random_coin(tt_random_t *r)
{
	uint64_t x = random_next(r);
	return (x & 1u) != 0u;
}

static uint64_t twice(tt_random_t *r)
{
	uint64_t x = random_next(r);
	return x ^ r->state;
}

void run_alone(const tt_words_t *in, tt_words_t *out)
{
	tt_random_t r = {0};
	r.state = (uint64_t)in->v[0] | 1u;
	uint64_t x = random_next(&r);
	uint32_t y = (uint32_t)random_next(&r);
	out->v[0] = (int64_t)x;
	out->v[1] = (int64_t)y;
	if (random_coin(&r)) {
		out->v[2] = 1;
	}
	if (!random_coin(&r)) {
		out->v[3] = (int64_t)random_next(&r);
	}
	while (random_coin(&r)) {
		out->v[4]++;
	}
	out->v[5] = (int64_t)twice(&r);
	random_coin(&r);
	out->v[6] = (int64_t)r.state;
}

static tt_q8_t q8_half(tt_q8_t q)
{
	return q / 2;
}

static tt_verdict_t judge(int64_t x)
{
	if (x < 0) {
		return TT_NEVER;
	} else if ((x & 1) == 0) {
		return TT_PERHAPS;
	}
	return TT_ALWAYS;
}

void run_named(const tt_words_t *in, tt_words_t *out)
{
	tt_verdict_t v = judge(in->v[0]);
	if (v == TT_PERHAPS) {
		v = TT_ALWAYS;
	} else {
		v = (tt_verdict_t)(v | 4);
	}
	out->v[0] = (int64_t)v;
	tt_q8_t q = (tt_q8_t)in->v[1];
	out->v[1] = (int64_t)q8_half(q) + (int64_t)(q >> 1);
}

void run_floats(const tt_words_t *in, tt_words_t *out)
{
	float a = (float)(int32_t)in->v[0];
	float b = (float)in->v[1];
	float c = (float)((float)(uint16_t)in->v[2] * 0.125f);
	float s = (float)(a * c) + b;
	float d = (float)(s * 0.1f) - (float)(b / (c + 1.0f));
	if (d < 0.0f) {
		d = -d;
	}
	d += 0.001f;
	d = (float)(d * c);
	out->v[0] = (int64_t)fixed_round_f(s, -1073741824, 1073741824);
	out->v[1] = (int64_t)fixed_round_f(d, -1000000, 1000000);
	out->v[2] = (int64_t)fixed_round_f(sqrtf(c), 0, 10000);
	if (s > b || d >= 5.0f) {
		out->v[3] = (int64_t)fixed_round_f((float)(fabsf(s) * 1e-06f), 0, 1073741824);
	}
}

void run_library(const tt_words_t *in, tt_words_t *out)
{
	int32_t a = (int32_t)in->v[0];
	int32_t b = (int32_t)in->v[1];
	uint32_t n = (uint32_t)in->v[2] & 31u;
	out->v[0] = (int64_t)fixed_add_sat32(a, b) + (int64_t)fixed_sub_sat32(a, b);
	out->v[1] = (int64_t)fixed_mul(a, b, n) ^ (int64_t)fixed_mul_q31(a, b);
	out->v[2] = (int64_t)fixed_div32(a, b) ^ (int64_t)fixed_shift_up32(a, n);
	out->v[3] = (int64_t)fixed_sqrt32((uint32_t)a) + (int64_t)fixed_hypot(a, b);
	int32_t angle = fixed_atan2(a, b);
	out->v[4] = (int64_t)angle + (int64_t)fixed_decideg(angle);
	out->v[5] = (int64_t)fixed_tanh(b) ^ (int64_t)fixed_exp(a) ^ (int64_t)fixed_exp2(b);
	tt_fixed_vector_t v = fixed_turn((tt_fixed_vector_t){.x = a >> 2, .y = b >> 2}, angle);
	tt_fixed_vector_t u = fixed_sin_cos(b);
	out->v[6] = (int64_t)v.x ^ ((int64_t)v.y * 3) ^ (int64_t)u.x ^ (int64_t)u.y;
	out->v[7] = (int64_t)fixed_mul_q15((int16_t)a, (int16_t)b) ^ (int64_t)fixed_round32(a, n);
}

void run_library64(const tt_words_t *in, tt_words_t *out)
{
	int64_t a = in->v[0];
	int64_t b = in->v[1];
	out->v[0] = fixed_add_sat64(a, b) ^ fixed_sub_sat64(a, b);
	out->v[1] = fixed_mul_sat64(a, b);
	out->v[2] = fixed_div64(a, b);
	out->v[3] = (int64_t)fixed_div(a, (int32_t)b);
	out->v[4] = (int64_t)fixed_sqrt64((uint64_t)a) + (int64_t)fixed_log2((uint64_t)b);
	out->v[5] = fixed_round64(a, (uint32_t)b & 63u);
	uint8_t bytes[8] = {0};
	for (int_fast16_t i = 0; i < 8; i++) {
		bytes[i] = (uint8_t)in->v[i];
	}
	out->v[6] = (int64_t)fixed_crc16(bytes, 8, 0xffff) + (int64_t)fixed_crc16_word((uint32_t)a, 0xffff);
}

static void machine_push(tt_machine_t *m, int32_t x)
{
	m->ring[m->next] = x;
	m->grid[m->next][1] = (int16_t)x;
	m->next++;
	if ((int32_t)m->next == (int32_t)TT_RING) {
		m->next = 0;
	}
}

static int32_t sum_of(const int16_t *w, int32_t n)
{
	int32_t sum = 0;
	for (int32_t i = 0, i_end = n; i < i_end; i++) {
		sum += (int32_t)w[i];
	}
	return sum;
}

static int64_t machine_weigh(const tt_machine_t *m)
{
	int64_t sum = 0;
	int32_t at = (int32_t)m->next;
	for (int_fast16_t i = 0; i < TT_WEIGHTS; i++) {
		at--;
		if (at < 0) {
			at += (int32_t)TT_RING;
		}
		sum += (int64_t)m->ring[at] * (int64_t)m->numbers->weights[i];
	}
	return sum + (int64_t)sum_of(m->numbers->weights, (int32_t)TT_WEIGHTS) - (int64_t)m->grid[0][1];
}

void machine_feed(tt_machine_t *m, const tt_words_t *in, tt_words_t *out)
{
	for (int_fast16_t i = 0; i < 8; i++) {
		machine_push(m, (int32_t)in->v[i]);
	}
	out->v[0] = machine_weigh(m);
}

void random_fill(tt_random_t *r, tt_words_t *w)
{
	for (int_fast16_t i = 0; i < 8; i++) {
		uint64_t size = random_next(r);
		uint64_t kind = random_next(r);
		uint64_t x = size >> (kind & 63u);
		switch ((kind >> 6) & 31u) {
		case 0u:
			x = UINT64_C(2147483648);
			break;
		case 1u:
			x = UINT64_C(0x7fffffff);
			break;
		case 2u:
			x = UINT64_C(9223372036854775808);
			break;
		case 3u:
			x = UINT64_C(0xffffffff);
			break;
		}
		if (((kind >> 11) & 1u) != 0u) {
			x = 0u - x;
		}
		w->v[i] = (int64_t)x;
	}
}

uint32_t mix_words(uint32_t sum, const tt_words_t *w)
{
	for (int_fast16_t i = 0; i < 8; i++) {
		uint64_t x = (uint64_t)w->v[i];
		sum = (sum ^ (uint32_t)x) * 16777619u;
		sum = (sum ^ (uint32_t)(x >> 32)) * 16777619u;
		sum ^= sum >> 15;
	}
	return sum;
}
