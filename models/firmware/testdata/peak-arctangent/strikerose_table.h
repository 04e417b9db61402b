// Numbers of the detector peak-arctangent for rig garage-r1, profile fixed.
// Written by strikerose; do not edit, export again.

// The same as in table.json, which says where they come from. Only strikerose.c
// includes this file; one of another training can take its place.

#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include "strikerose.h"

static const uint32_t strikerose_table_layout = UINT32_C(0x04C5691F);
static const uint16_t strikerose_table_crc = 0x3777u;

static const strikerose_table_t strikerose_table = {
	.chain = {
		.period = 256000,
		.late = 192000,
		.most_lost = 5,
		.farthest = 8000,
		.clip = 32736,
		.most_clip = 72019,
		.noise = 3517,
		.noise_least = 440,
		.noise_edge = 39811910,
		.noise_top = 89327,
		.noise_first = 62,
		.noise_until = 2000,
		.blip = 3,
		.run_times = {4, 4, 4},
		.boxcar = 8,
		.lag = 24,
		.collect = 30,
		.settle = 25,
		.longest = 90,
		.dead = 120,
		.before = 35,
		.snatch = 800,
		.per_noise = 21283,
		.floor = 1002,
		.shove = 8354,
		.ring = {423, 5},
		.fade = {51, 1001},
		.tail = {-30, -3, 2, 19, 28, 45},
		.contact = 30,
		.early = 10,
		.near_gap = 30,
		.post = 32,
		.soon = 25,
		.steady = 3,
		.upright = 1,
		.turn_a = {{16384, 0, 0}, {0, 16384, 0}, {0, 0, 16384}},
	},
	.yaw = 0,
	.faces = 6,
	.middle = 8000,
	.length = 16000,
	.wide = 1,
	.weak = 224,
	.pulse = {-1, 24, 256, 256},
	.quiet = {-25, -6, 256, 256},
	.peak_scale = 1961,
};

#endif
