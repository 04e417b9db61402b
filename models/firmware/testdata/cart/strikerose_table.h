/* Numbers of the detector cart for rig bag-r3. Written by strikerose; do
 * not edit, export again. */
/* The same as in table.json. Only strikerose_model.c includes this file. */
#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include <stdint.h>

enum {
    ALIGNED_VECTORS = 2, /* vectors that are aligned */
    ALIGNED = 6, /* aligned features */
    SIN_NODES = 3, /* nodes of the tree SIN */
    COS_NODES = 1, /* nodes of the tree COS */
    HEIGHT_NODES = 5, /* nodes of the tree HEIGHT */
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

/* sine of the turn: the aligned feature that a node asks for, -1 for a
 * leaf */
static const int16_t SIN_FEATURE[SIN_NODES] = {
    1, -1, -1
};

/* sine of the turn: threshold of a node (standard deviations), or what a
 * leaf says (1) */
static const float SIN_NUMBER[SIN_NODES] = {
    0.5f, -0.25f, 0.25f
};

/* sine of the turn: next node below the threshold */
static const int16_t SIN_BELOW[SIN_NODES] = {
    1, 0, 0
};

/* sine of the turn: next node otherwise */
static const int16_t SIN_OTHER[SIN_NODES] = {
    2, 0, 0
};

/* cosine of the turn: the aligned feature that a node asks for, -1 for a
 * leaf */
static const int16_t COS_FEATURE[COS_NODES] = {
    -1
};

/* cosine of the turn: threshold of a node (standard deviations), or what
 * a leaf says (1) */
static const float COS_NUMBER[COS_NODES] = {
    0.875f
};

/* cosine of the turn: next node below the threshold */
static const int16_t COS_BELOW[COS_NODES] = {
    0
};

/* cosine of the turn: next node otherwise */
static const int16_t COS_OTHER[COS_NODES] = {
    0
};

/* height above the centre of mass: the aligned feature that a node asks
 * for, -1 for a leaf */
static const int16_t HEIGHT_FEATURE[HEIGHT_NODES] = {
    0, 5, -1, -1, -1
};

/* height above the centre of mass: threshold of a node (standard
 * deviations), or what a leaf says (m) */
static const float HEIGHT_NUMBER[HEIGHT_NODES] = {
    -0.25f, 1.0f, -0.25f, 0.125f, 0.375f
};

/* height above the centre of mass: next node below the threshold */
static const int16_t HEIGHT_BELOW[HEIGHT_NODES] = {
    1, 2, 0, 0, 0
};

/* height above the centre of mass: next node otherwise */
static const int16_t HEIGHT_OTHER[HEIGHT_NODES] = {
    4, 3, 0, 0, 0
};

/* height of the centre of mass above the bag's bottom (m) */
static const float CENTRE_M = 0.5f;

/* degrees in a radian (deg/rad) */
static const float DEGREES = 57.29578f;

/* yaw offset of the rig, learned from labels, added to every bearing
 * (deg) */
static const float YAW_DEG = 1.0f;

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
