#ifndef PROGRAMS_H
#define PROGRAMS_H
#include <stdint.h>
#define TT_RING 5
#define TT_WEIGHTS 3
#if !defined(TT_RING) || TT_RING < 1 || TT_RING > 32767
#error "TT_RING must be a number of elements, 1 to 32767"
#endif
#if !defined(TT_WEIGHTS) || TT_WEIGHTS < 1 || TT_WEIGHTS > 32767
#error "TT_WEIGHTS must be a number of elements, 1 to 32767"
#endif

// numbers is what a machine reads and never writes.
typedef struct {
	int16_t weights[TT_WEIGHTS];
} tt_numbers_t;

// machine has memory whose size the program that holds it sets.
typedef struct {
	const tt_numbers_t *numbers;
	int32_t ring[TT_RING];
	int16_t grid[TT_RING][2];
	uint16_t next;
} tt_machine_t;

// Words is the input or output of a program.
typedef struct {
	int64_t v[8];
} tt_words_t;

// Random makes numbers of all sizes (xorshift64, Marsaglia 2003).
typedef struct {
	uint64_t state;
} tt_random_t;

// Wrap32 wraps in 32 bits, unsigned and through conversions.
void run_wrap32(const tt_words_t *in, tt_words_t *out);

// Wrap64 wraps in 64 bits.
void run_wrap64(const tt_words_t *in, tt_words_t *out);

// Narrow computes with what is stored in 8 and 16 bits.
void run_narrow(const tt_words_t *in, tt_words_t *out);

// Bits combines bits.
void run_bits(const tt_words_t *in, tt_words_t *out);

// Shifts shifts by constants and by masked counts.
void run_shifts(const tt_words_t *in, tt_words_t *out);

// Divide divides, toward 0.
void run_divide(const tt_words_t *in, tt_words_t *out);

// Compare compares, signed and unsigned.
void run_compare(const tt_words_t *in, tt_words_t *out);

// Convert converts between all widths.
void run_convert(const tt_words_t *in, tt_words_t *out);

// Literals uses numbers of all sizes, by name and bare.
void run_literals(const tt_words_t *in, tt_words_t *out);

// Whole uses numbers written as fractions or with exponents as integers.
void run_whole(const tt_words_t *in, tt_words_t *out);

// Precedence mixes operators whose order differs between the languages.
void run_precedence(const tt_words_t *in, tt_words_t *out);

// Loops loops in every way.
void run_loops(const tt_words_t *in, tt_words_t *out);

// Arrays fills and reads arrays.
void run_arrays(const tt_words_t *in, tt_words_t *out);

// Grid works on an array of arrays.
void run_grid(const tt_words_t *in, tt_words_t *out);

// Structs copies, makes and passes structs.
void run_structs(const tt_words_t *in, tt_words_t *out);

// Pointers goes through pointers into structs and arrays.
void run_pointers(const tt_words_t *in, tt_words_t *out);

// Counted counts what pointers point to.
void run_counted(const tt_words_t *in, tt_words_t *out);

// Slices passes parts of arrays.
void run_slices(const tt_words_t *in, tt_words_t *out);

// Switches chooses.
void run_switches(const tt_words_t *in, tt_words_t *out);

// Tables reads constant tables.
void run_tables(const tt_words_t *in, tt_words_t *out);

// Extremes takes the least and greatest.
void run_extremes(const tt_words_t *in, tt_words_t *out);

// Shadows declares names again.
void run_shadows(const tt_words_t *in, tt_words_t *out);

// Logic stops early in && and ||.
void run_logic(const tt_words_t *in, tt_words_t *out);

// Alone calls what writes memory, in all places that it may stand in.
void run_alone(const tt_words_t *in, tt_words_t *out);

// Named uses numbers with names of their own.
void run_named(const tt_words_t *in, tt_words_t *out);

// Floats computes in float32: each step rounded, none fused.
void run_floats(const tt_words_t *in, tt_words_t *out);

// Library runs the arithmetic that boards use, in 32 bits.
void run_library(const tt_words_t *in, tt_words_t *out);

// Library64 runs it in 64 bits.
void run_library64(const tt_words_t *in, tt_words_t *out);

// Feed runs a machine over a program's input.
void machine_feed(tt_machine_t *m, const tt_words_t *in, tt_words_t *out);

// Fill draws a program's input: every length in bits is as likely, and the
// limits of the types come now and then.
void random_fill(tt_random_t *r, tt_words_t *w);

// Mix folds a program's output into a check number.
uint32_t mix_words(uint32_t sum, const tt_words_t *w);

#endif
