// Numbers of the detector pendulum for rig garage-r1, profile fixed.
// Written by strikerose; do not edit, export again.

// The same as in table.json, which says where they come from. Only strikerose.c
// includes this file; one of another training can take its place.

#ifndef STRIKEROSE_TABLE_H
#define STRIKEROSE_TABLE_H

#include "strikerose.h"

static const uint32_t strikerose_table_layout = UINT32_C(0x4C92BE3F);
static const uint16_t strikerose_table_crc = 0x8513u;

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
		.post = 50,
		.soon = 32,
		.steady = 3,
		.block = 2066,
		.zero_a = {0, 0, 32768},
		.zero_g = {0, 0, 0},
		.weight_a = 1670,
		.weight_g = 1649,
		.spread_a = 100,
		.spread_g = 20,
		.upright = 1,
		.turn_a = {{16384, 0, 0}, {0, 16384, 0}, {0, 0, 16384}},
		.turn_g = {{16384, 0, 0}, {0, 16384, 0}, {0, 0, 16384}},
	},
	.yaw = 0,
	.faces = 6,
	.centre = 8000,
	.length = 16000,
	.wide = 0,
	.weak = 20972,
	.pulse = {-1, 24, 256, 256},
	.quiet = {-25, -6, 256, 256},
	.peak_scale = 1961,
	.form_shift = 28,
	.floor = 13107,
	.stretches = {{-25, -6, 256, 256}, {-3, 21, 256, 256}, {20, 31, 256, 256}, {-1, 3, 256, 256},
		{4, 7, 256, 256}, {8, 11, 256, 256}, {12, 17, 256, 256}, {18, 24, 256, 256}, {25, 34, 256,
		256}, {35, 49, 256, 256}, {-60, -26, 256, 256}},
	.form_a = {{-54579032, -54579032, 45616237, -54579032, 0, 0}, {-38434543, -38434543, -2854618,
		-38434543, 84238482, 84238482}, {0, 0, 0, 0, 0, 0}, {-45217826, -45217826, 2718340, -45217826,
		0, 0}, {-45217826, -45217826, 2718340, -45217826, 0, 0}, {-45217826, -45217826, 2718340,
		-45217826, 0, 0}, {-45217826, -45217826, 2718340, -45217826, 0, 0}, {-45217826, -45217826,
		2718340, -45217826, 0, 0}, {0, 0, 0, 0, 0, 0}, {0, 0, 0, 0, 0, 0}, {9159605, 9159605,
		-9592753, 9159605, 0, 0}},
	.form_g = {{-392788550, -392788550, 78606092, -392788550, 0, 411885032}, {0, 0, 0, 0, 0, 0},
		{283571230, 283571230, -102695141, 283571230, 0, -686475053}, {0, 0, 0, 0, 0, 0}, {0, 0, 0, 0,
		0, 0}, {0, 0, 0, 0, 0, 0}, {0, 0, 0, 0, 0, 0}, {0, 0, 0, 0, 0, 0}, {321981975, 321981975,
		-101174824, 321981975, 0, 0}, {112859070, 112859070, 25764915, 112859070, 0, 0}, {-13024734,
		-13024734, 8079059, -13024734, 0, 0}},
	.form_z = {{0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0,
		0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}},
	.form_s = {{94195298, 81908955}, {0, 0}, {-156992164, -136514925}, {0, 0}, {0, 0}, {0, 0}, {0,
		0}, {0, 0}, {0, 0}, {0, 0}, {0, 0}},
};

#endif
