/* A sketch of a program for a board, to be filled in where it says so: the five
   functions below know your microcontroller and your sensor, the rest does not.

   Before you close the bag:
   - Fix, fuse and pad the battery. Lithium cells burn when they are crushed; charge
     them outside the bag, and not unattended.
   - Never strike a bag that hangs on a mains charger, and keep mains out of it.
   - The hanging hardware, and what it hangs from, must be rated well above the load.
   - Wraps and gloves on, also to try the sensor; nobody behind the bag.
   - Local codes, the makers' instructions and licensed people come first. */

#include "strikerose.h"

/* FILL IN: start the clocks, the bus (I2C at 400 kHz or SPI) and the serial port. */
static void board_start(void)
{
}

/* FILL IN: set the sensor to the rate and the ranges of the rig file (README.txt
   has them), its low-pass filter to about half the rate, and data-ready on. */
static void sensor_start(void)
{
}

/* FILL IN: true when the sensor has a new reading. Do not read slower than it
   samples: a lost sample costs a little, six in a row cost a strike. */
static int sensor_ready(void)
{
	return 0;
}

/* FILL IN: read one sample as raw counts, on the sensor's own axes, and stamp it
   with a free-running microsecond counter. The counter may wrap at 2^32. */
static void sensor_read(strikerose_sample_t *s)
{
	s->t_us = 0;
	for (int k = 0; k < 3; k++) {
		s->a[k] = 0;
		s->g[k] = 0;
	}
}

/* FILL IN: say where a strike landed: a serial line, a lamp, a radio packet. */
static void tell(const strikerose_event_t *e)
{
	if (e->flags & 8u) {
		return; /* the early answer of this number was no strike: take it back */
	}
	/* e->bearing_ddeg tenths of a degree, e->face, e->height_mm (-1: not yet) */
}

int main(void)
{
	static strikerose_t detector; /* its memory, all of it */
	strikerose_sample_t s;
	strikerose_event_t e;

	board_start();
	sensor_start();
	if (strikerose_init(&detector) != STRIKEROSE_READY) {
		return 1; /* strikerose_table.h is not of this code, or damaged */
	}
	for (;;) {
		if (!sensor_ready()) {
			continue; /* or sleep until the sensor's interrupt */
		}
		sensor_read(&s);
		for (int more = strikerose_push(&detector, &s, &e); more; more = strikerose_next(&detector, &e)) {
			tell(&e);
		}
	}
}
