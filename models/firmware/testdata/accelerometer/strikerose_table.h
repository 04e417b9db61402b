/* Numbers of the detector complex-ridge (form accelerometer) for rig
 * bag-r3. Written by strikerose; do not edit, export again. */
/* The same as in table.json. Only strikerose_model.c includes this file. */
#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include <stdint.h>

enum {
    ALIGNED_VECTORS = 2, /* vectors that are aligned */
    ALIGNED = 6, /* aligned features */
    UNITS = 3, /* hidden units of the nets */
    FACES = 6 /* faces of the bag */
};

/* one over the usual size of each vector (1 per unit of the vector) */
static const float SIZE_INVERSE[ALIGNED_VECTORS] = {
    2.0f, 0.5f
};

/* weights of the first direction u (1 per unit of the vector) */
static const float FIRST[ALIGNED_VECTORS] = {
    -2.0f, 0.125f
};

/* what an aligned feature usually is (1) */
static const float MEAN[ALIGNED] = {
    -0.5f, 0.0f, 0.25f, 0.0f, 0.0f, 0.125f
};

/* one over its standard deviation (1) */
static const float SPREAD_INVERSE[ALIGNED] = {
    2.0f, 4.0f, 1.0f, 1.0f, 0.5f, 2.0f
};

/* aligned features are held to so many standard deviations (1) */
static const float HELD_SD = 4.0f;

/* weights of a hidden unit on the aligned features, unit by unit (1) */
static const float HIDDEN[UNITS * ALIGNED] = {
    1.0f, 0.5f, 0.0f, -0.25f, 0.125f, 0.0f, 0.0f, -1.0f, 0.25f, 0.0f, 0.0f,
    0.5f, 0.5f, 0.0f, 0.25f, 0.0f, -1.0f, 0.0f
};

/* bias of a hidden unit (1) */
static const float HIDDEN_BIAS[UNITS] = {
    3.25f, -0.875f, 2.0f
};

/* weight of a unit in the sine of the turn, up to a common factor with
 * the cosine (1) */
static const float OUT_SIN[UNITS] = {
    0.5f, -0.25f, 1.0f
};

/* weight of a unit in the cosine of the turn (1) */
static const float OUT_COS[UNITS] = {
    1.0f, 0.5f, 0.25f
};

/* weight of a unit in the height (m) */
static const float OUT_HEIGHT[UNITS] = {
    0.03125f, -0.015625f, -0.0078125f
};

/* bias of the cosine (1) */
static const float COS_BIAS = 14.0f;

/* bias of the height (m) */
static const float HEIGHT_BIAS_M = 0.0234375f;

/* height of the centre of mass above the bag's bottom (m) */
static const float CENTRE_M = 0.5f;

/* degrees in a radian (deg/rad) */
static const float DEGREES = 57.29578f;

/* yaw offset of the rig, learned from labels, added to every bearing
 * (deg) */
static const float YAW_DEG = 0.0f;

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

/* how far the mount of a rig without labels may be turned, standard
 * deviation (deg) */
static const float MOUNT_SD_DEG = 3.0f;

/* half of its 90 % interval (deg) */
static const float MOUNT_HALF90_DEG = 4.935f;

/* least standard deviation of a bearing on a rig with too few labels to
 * measure it (deg) */
static const float LEAST_SD_DEG = 64.0f;

/* half of its 90 % interval (deg) */
static const float LEAST_HALF90_DEG = 128.0f;

/* likewise of a height (m) */
static const float LEAST_SD_M = 0.25f;

/* half of its 90 % interval (m) */
static const float LEAST_HALF90_M = 0.5f;

/* least standard deviation of a bearing that is a guess (deg) */
static const float GUESS_SD_DEG = 100.0f;

/* likewise of a height: anywhere on the bag (m) */
static const float GUESS_SD_M = 0.28867513f;

/* half of its 90 % interval (m) */
static const float GUESS_HALF90_M = 0.5f;

#endif
