/* Numbers of the detector peak-arctangent for rig bag-r3. Written by
 * strikerose; do not edit, export again. */
/* The same as in table.json. Only strikerose_model.c includes this file. */
#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include <stdint.h>

enum {
    FACES = 6, /* faces of the bag */
    TERMS = 5 /* terms of the difficulty */
};

/* height stated where none is measured: the middle of the bag (m) */
static const float MIDDLE_M = 0.5f;

/* degrees in a radian (deg/rad) */
static const float DEGREES = 57.29578f;

/* yaw offset of the rig, learned from labels, added to every bearing
 * (deg) */
static const float YAW_DEG = -2.5f;

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

/* of log peak, log swing before, vertical ratio, oblique, curved (1) */
static const float DIFFICULTY_WEIGHT[TERMS] = {
    -0.25f, 0.125f, 0.5f, 1.0f, 2.0f
};

/* what the terms usually are (1) */
static const float DIFFICULTY_MEAN[TERMS] = {
    4.0f, 0.5f, 0.25f, 0.125f, 0.0625f
};

/* least difficulty (1) */
static const float DIFFICULTY_LOW = 0.5f;

/* largest difficulty (1) */
static const float DIFFICULTY_HIGH = 4.0f;

/* least standard deviation of a bearing that is a guess (deg) */
static const float GUESS_SD_DEG = 100.0f;

/* likewise of a height: anywhere on the bag (m) */
static const float GUESS_SD_M = 0.28867513f;

/* half of its 90 % interval (m) */
static const float GUESS_HALF90_M = 0.5f;

#endif
