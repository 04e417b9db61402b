// Interface of the detector peak-arctangent for rig garage-r1, profile fixed.
// Written by strikerose; do not edit, export again.

#ifndef STRIKEROSE_H
#define STRIKEROSE_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define STRIKEROSE_RING 256 // samples that the ring keeps

// The table must be made for this code: same sizes, same fields.
#define STRIKEROSE_LAYOUT UINT32_C(0x04C5691F)

#if !defined(STRIKEROSE_RING) || STRIKEROSE_RING < 1 || STRIKEROSE_RING > 32767
#error "STRIKEROSE_RING must be a number of elements, 1 to 32767"
#endif

// The noise is measured as in features/onset: by the median size of the third
// difference of single samples, which is blind to motion. The median is read
// from counts in bins of equal ratio, six in a factor of two.
#define STRIKEROSE_NOISE_BINS 48

// Axes and what counts as a blip.
#define STRIKEROSE_AXES 3 // in the chain: two across the bag, then the one along it
// mostWaiting events can wait to be fetched: a segment's end gives no more.
#define STRIKEROSE_MOST_WAITING 4

// Sample is one reading as the sensor gives it, on its own axes.
typedef struct {
	uint32_t t_us; // when it was read, microseconds; may wrap
	int16_t a[3]; // accelerometer, counts
	int16_t g[3]; // gyroscope, counts; ignored where the detector needs none
} strikerose_sample_t;

// Verdict says what an event was.
typedef uint8_t strikerose_verdict_t;

// collected is what is measured of one event. Differences are counts times twice
// the boxcar's length.
typedef struct {
	int32_t now; // newest reading of it
	int32_t brief; // largest short difference across the bag
	int32_t slow; // largest long difference
	int32_t raw; // largest second difference of single samples, times two
	int32_t vertical; // largest short difference along the bag
	int32_t short_at;
	int32_t raw_at;
	int32_t base[2]; // reading across the bag before it
	int32_t way[2]; // unit vector along which it deviates most, Q14
	int32_t onset;
	strikerose_verdict_t verdict;
} strikerose_collected_t;

// meter measures the noise of one axis, taken as equal on all three.
typedef struct {
	uint16_t counts[STRIKEROSE_NOISE_BINS]; // never more than 3 axes x 2 s x 8000 Hz
	int32_t held; // samples of the segment, as far as it matters
	int32_t n; // samples taken
	int32_t next; // n at which the value is renewed
	uint8_t done; // it stays
} strikerose_meter_t;

// Table holds the chain's numbers for one rig. Samples are counted at the
// sensor's rate, sizes are counts of the accelerometer (Q8: 1/256 of one).
typedef struct {
	int32_t period; // between samples, Q8 microseconds
	int32_t late; // how late a sample comes if one before it was lost, Q8 microseconds
	int32_t most_lost; // most lost samples that are filled in; more end the segment
	int32_t farthest; // a stamp further than this many microseconds from the last ends the segment too
	int32_t clip; // size of a clipped reading, counts
	int32_t most_clip; // largest reading put back for a clipped one, counts
	int32_t noise; // of one axis, Q8: as the rig gives it, or until it is measured
	int32_t noise_least; // least noise that is taken for measured, Q8
	int32_t noise_edge; // logarithm to base 2 of the size, in counts, at which the second bin of third differences begins, Q24
	int32_t noise_top; // noise, Q8, at which the last bin begins
	int32_t noise_first; // samples to the first value, which is renewed at each doubling
	int32_t noise_until; // samples after which it stays
	int32_t blip; // most samples of a run that is taken for a blip
	int32_t run_times[3]; // how many times the movement beside it a run of one, two, three samples must stand off
	int32_t boxcar; // length of the short boxcar; the long one is three times as long
	int32_t lag; // by which the long difference lags the short one
	int32_t collect; // least samples collected after the trigger
	int32_t settle; // least samples after the largest short difference
	int32_t longest; // most samples collected after the trigger
	int32_t dead; // after a strike's onset without another
	int32_t before; // stretch before mid-contact in which the onset may lie
	int32_t snatch; // samples after a strike within which the chain may snatch
	int32_t per_noise; // trigger level over the noise, times twice the short boxcar, Q8
	int32_t floor; // smallest trigger level, counts times twice the short boxcar
	int32_t shove; // largest short difference of a shove, likewise
	int32_t ring[2]; // what a strike adds to the trigger level at its onset, as a part of its size: fast and slow, Q8; the fast one below 2
	int32_t fade[2]; // with each sample it loses its part of one over this
	int32_t tail[6]; // samples after the onset: base from and to, push from and to, tail from and to
	int32_t contact; // samples after the onset in which clipping is looked for
	int32_t early; // samples before the onset in which contact may have begun
	int32_t near_gap; // samples before the onset in which a loss still matters
	int32_t post; // samples from the onset on that an answer wants
	int32_t soon; // likewise for the early answer; 0 for none
	int32_t steady; // samples after the largest short difference until an early answer is tried
	int32_t upright; // 1 where the sensor's axis along the bag points up, -1 where down
	int32_t turn_a[3][3]; // from the sensor's axes to the bag's, calibrated, Q14
} strikerose_chain_table_t;

// Chain is the state of a running chain. Samples of a segment are numbered from
// the length of the ring on, so that what came before the first has a number too:
// it is taken to have been like the first.
typedef struct {
	int32_t n; // number of the next reading; 0 at the start of a segment
	int32_t clean; // number of the next that leaves the despiker
	int32_t mended; // readings before this number need no test for blips
	int32_t onset; // of the newest strike, or of an event that is answered early
	int32_t decided; // newest number that its decision used
	uint8_t collecting;
	uint8_t pending; // a strike waits for the end of its window
	uint8_t padding; // the newest reading is not real
	uint8_t early; // how far the early answer is
	int32_t trigger; // number at which the event began
	int32_t level; // trigger level then
	int32_t most; // largest short difference since
	int32_t most_at; // its number
	int32_t hold_to; // no trigger before this number
	int32_t sum[2]; // short difference across the bag, times twice the short boxcar
	int32_t ring[2]; // what the last strike adds to the trigger level, Q8
	int32_t strike_at; // onset of the segment's last strike
	int32_t strike_size; // its short difference, 0 for none
	uint32_t last_us; // stamp of the newest reading
	int32_t phase; // how much later than due it came, Q8 microseconds
	int32_t noise; // of one axis, Q8
	strikerose_collected_t event;
	strikerose_meter_t meter;
	int16_t a[STRIKEROSE_RING][3]; // newest readings: raw the last Lookahead, before them despiked and mended
	uint16_t stamps[STRIKEROSE_RING]; // low 15 bits of their times in microseconds; the top bit for one that was filled in
} strikerose_chain_t;

// Stretch is a stretch of time after the onset, in samples: those at its ends
// count by the part of them that lies inside, Q8.
typedef struct {
	int16_t first;
	int16_t last;
	int16_t first_part; // of 256; LastPart is 0 where first and last are the same
	int16_t last_part; // of 256; LastPart is 0 where first and last are the same
} strikerose_stretch_t;

// Event is one answer.
typedef struct {
	uint32_t t_raw; // stamp of the onset's sample, microseconds
	uint32_t number; // of the strike; an early answer has the number of its final one
	uint16_t bearing_ddeg; // tenths of a degree clockwise from the middle of face 1, 0 to 3599
	int16_t height_mm; // above the bag's bottom edge; -1 where not given yet
	uint16_t peak; // largest push across the bag, 1/100 m/s2
	uint8_t stage; // 0 early, 1 final
	uint8_t face; // from 1, clockwise
	uint8_t certainty; // 0 as usual, 1 weak, 2 a guess
	uint8_t flags; // sum of 1 clipped, 2 unsure, 4 near a gap, 8 retracted
} strikerose_event_t;

// Table holds the numbers of a detector on one rig.
typedef struct {
	strikerose_chain_table_t chain;
	int32_t yaw; // added to every bearing: what labels taught, and how the mount is turned; binary angle, 2^32 is a turn
	int32_t faces;
	int32_t middle; // height stated where none is measured, Q4 mm
	int32_t length; // of the bag, Q4 mm
	int32_t wide; // 1 where the stated interval is wider than a face: every bearing is unsure
	int32_t weak; // a smaller velocity change is unsure, Q20 m/s; of the largest push alone, 1/100 m/s2
	strikerose_stretch_t pulse; // where the peak is looked for
	strikerose_stretch_t quiet; // before the onset, whose mean is taken off
	int32_t peak_scale; // 1/100 m/s2 of a count, Q12; below 2^15
} strikerose_table_t;

// Detector is all that a board keeps.
typedef struct {
	uint32_t count; // strikes so far, and early answers that were none
	uint8_t given; // the event under way has an early answer
	int32_t waiting;
	strikerose_event_t early; // that answer
	strikerose_event_t queue[STRIKEROSE_MOST_WAITING];
	strikerose_chain_t chain; // last: what lies behind its ring is far to reach
} strikerose_t;

// Start makes the detector as new.
void strikerose_restart(strikerose_t *d);

// Next fetches an event that waits, the oldest first.
uint8_t strikerose_next(strikerose_t *d, strikerose_event_t *e);

// Push takes one sample. It is true where an event is ready, which it then
// copies; Next gives what may follow.
uint8_t strikerose_push(strikerose_t *d, const strikerose_sample_t *s, strikerose_event_t *e);

// Flush ends the recording: what is under way is decided with what is there. It is
// true where an event is ready. The detector can take samples again.
uint8_t strikerose_flush(strikerose_t *d, strikerose_event_t *e);


// What strikerose_init returns.
#define STRIKEROSE_READY 0
#define STRIKEROSE_OTHER_TABLE 1 // strikerose_table.h is not of this code
#define STRIKEROSE_DAMAGED_TABLE 2 // a number of it has changed

// Checks the table and makes the detector ready. Do not use it where this does not
// return STRIKEROSE_READY.
int strikerose_init(strikerose_t *d);

#ifdef __cplusplus
}
#endif

#endif
