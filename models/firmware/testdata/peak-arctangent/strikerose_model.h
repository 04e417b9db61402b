/* Interface of the detector peak-arctangent for rig bag-r3. Written by
 * strikerose; do not edit, export again. */
#ifndef STRIKEROSE_MODEL_H
#define STRIKEROSE_MODEL_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Features of one strike, in the order in which strikerose_estimate
 * takes them. Frame of the bag: x toward bearing 90, y toward bearing 0,
 * z up. Times are milliseconds after the onset of the strike. */
enum {
    /* horizontal specific force at its largest size within 25 ms of the
     * onset, less the mean from 25 to 5 ms before it, toward bearing 90
     * (m/s2); reads -25 to 25 ms */
    STRIKEROSE_PEAK_X = 0,
    /* horizontal specific force at its largest size within 25 ms of the
     * onset, less the mean from 25 to 5 ms before it, toward bearing 0
     * (m/s2); reads -25 to 25 ms */
    STRIKEROSE_PEAK_Y = 1,
    /* earlier swing: root mean square size of the horizontal specific
     * force from 150 to 5 ms before the onset (m/s2); reads -150 to -5
     * ms */
    STRIKEROSE_SWING_BEFORE = 2,
    /* mean vertical specific force from -1 to 25 ms over the root mean
     * square of the horizontal one, both less the mean from 25 to 5 ms
     * before the onset (no unit); reads -25 to 25 ms */
    STRIKEROSE_VERTICAL_RATIO = 3,
    /* how nearly the horizontal specific force moves on a line from -1
     * to 25 ms: 1 less the ratio of the smaller to the larger mean
     * square (Jurkevics 1988), 1 on a line, 0 on a circle (no unit);
     * reads -25 to 25 ms */
    STRIKEROSE_RECTILINEARITY = 4,
    /* velocity change of the sensor across the bag: integral of the
     * horizontal specific force from -3 to 22 ms, nothing taken off,
     * toward bearing 90 (m/s); reads -3 to 22 ms */
    STRIKEROSE_KICK_X = 5,
    /* velocity change of the sensor across the bag: integral of the
     * horizontal specific force from -3 to 22 ms, nothing taken off,
     * toward bearing 0 (m/s); reads -3 to 22 ms */
    STRIKEROSE_KICK_Y = 6,
    /* number of features */
    STRIKEROSE_FEATURES = 7,
    /* so many, from the first, are needed: without one of them the
     * answer is a guess. The others only say how sure it is */
    STRIKEROSE_NEEDED = 2
};

/* All features can be had so many milliseconds after the onset: 25. */

/* Where the strike landed. */
typedef struct {
    /* degrees clockwise seen from above, from the middle of face 1; 0 or
     * more, below 360 */
    float bearing_deg;
    /* metres above the bag's bottom edge */
    float height_m;
    /* circular standard deviation of the bearing, degrees */
    float bearing_sd_deg;
    /* half of the bearing's 90 % interval, degrees, at most 180 */
    float bearing_half90_deg;
    /* standard deviation of the height, metres */
    float height_sd_m;
    /* half of the height's 90 % interval, metres */
    float height_half90_m;
    /* 1 to 6, clockwise */
    int face;
    /* 1: the interval is wider than a face, the strike is weak, or a
     * feature is missing */
    int unsure;
} strikerose_answer;

/* Answers for one strike. A feature without a value is NAN (math.h).
 * Every input gives a finite bearing and height. Uses no heap, no
 * recursion and no state. Does not compile with -ffast-math, which would
 * break the tests for NAN. */
void strikerose_estimate(const float feature[STRIKEROSE_FEATURES], strikerose_answer *answer);

/* Checksum of the numbers as the board holds them;
 * STRIKEROSE_TABLE_CRC32 is what it must be. CRC-32/ISO-HDLC over all
 * numbers in the order of this file, each as four bytes, lowest first:
 * float32 by its IEEE 754 bits, int16 as a 32-bit two's complement
 * (table.json). */
uint32_t strikerose_table_crc32(void);
#define STRIKEROSE_TABLE_VERSION 1
#define STRIKEROSE_TABLE_CRC32 UINT32_C(0xF77B8AA9)

#ifdef __cplusplus
}
#endif

#endif
