/* Numbers of the detector complex-ridge (form few) for rig bag-r3.
 * Written by strikerose; do not edit, export again. */
/* The same as in table.json. Only strikerose_model.c includes this file. */
#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include <stdint.h>

enum {
    VECTORS = 2, /* horizontal vectors in the sums */
    ODD = 1, /* scalars that change their sign in a mirror */
    EVEN = 1, /* scalars that stay in a mirror */
    FACES = 6 /* faces of the bag */
};

/* weights of the direction (1 per unit of the vector) */
static const float PUSH[VECTORS] = {
    -0.75f, 0.25f
};

/* weights of the first direction u (1 per unit of the vector) */
static const float FIRST[VECTORS] = {
    -1.0f, 0.375f
};

/* weights of what turns the direction away from u (1 per unit of the
 * scalar) */
static const float PUSH_ODD[ODD] = {
    -0.0625f
};

/* weights of what makes the direction longer along u (1 per unit of the
 * scalar) */
static const float PUSH_EVEN[EVEN] = {
    0.125f
};

/* weights of the height's numerator (m per unit of the vector) */
static const float TOP[VECTORS] = {
    0.03125f, -0.0625f
};

/* weights of the height's denominator (1 per unit of the vector) */
static const float BOTTOM[VECTORS] = {
    -1.0f, 0.5f
};

/* least denominator, as a share of the length of the direction (1) */
static const float FLOOR_SHARE = 0.25f;

/* height of a strike through the centre of mass, above the bag's bottom
 * (m) */
static const float CENTRE_M = 0.5f;

/* likewise of the scalars (m per unit of the scalar) */
static const float TOP_EVEN[EVEN] = {
    0.25f
};

/* likewise of the scalars (1 per unit of the scalar) */
static const float BOTTOM_EVEN[EVEN] = {
    0.5f
};

/* height stated where none is measured: the middle of the bag (m) */
static const float MIDDLE_M = 0.5f;

/* degrees in a radian (deg/rad) */
static const float DEGREES = 57.29578f;

/* yaw offset of the rig, learned from labels, added to every bearing
 * (deg) */
static const float YAW_DEG = 3.0f;

/* width of a face (deg) */
static const float FACE_DEG = 60.0f;

/* half of it (deg) */
static const float HALF_FACE_DEG = 30.0f;

/* length of the bag (m) */
static const float LENGTH_M = 1.0f;

/* circular standard deviation of a usual strike's bearing (deg) */
static const float BEARING_SD_DEG = 4.0f;

/* half of its 90 % interval (deg) */
static const float BEARING_HALF90_DEG = 7.5f;

/* standard deviation of the height (m) */
static const float HEIGHT_SD_M = 0.03125f;

/* half of its 90 % interval (m) */
static const float HEIGHT_HALF90_M = 0.0625f;

/* a weaker strike is unsure (m/s) */
static const float WEAKEST_KICK_MPS = 0.02f;

/* least standard deviation of a bearing that is a guess (deg) */
static const float GUESS_SD_DEG = 100.0f;

/* likewise of a height: anywhere on the bag (m) */
static const float GUESS_SD_M = 0.28867513f;

/* half of its 90 % interval (m) */
static const float GUESS_HALF90_M = 0.5f;

#endif
