"""Read a log of packed binary frames into arrays and save them with NumPy.

Usage: frames.py LOG OUT ACCEL_LSB_PER_G GYRO_LSB_PER_DPS. Frames are a5 5a, a stamp
of 32 bits, six readings of 16 bits, all little-endian, and the xor of what is
between. Frames whose checksum is wrong are left out. Units become SI; the clock
stays as it is.
"""

import os
import sys

import numpy

log, out, accel, gyro = sys.argv[1:]
b = numpy.fromfile(log, dtype=numpy.uint8)
size = 19
starts = numpy.flatnonzero((b[: len(b) - size + 1] == 0xA5) & (b[1 : len(b) - size + 2] == 0x5A))
frames = numpy.lib.stride_tricks.sliding_window_view(b, size)[starts]
frames = frames[numpy.bitwise_xor.reduce(frames[:, 2:], axis=1) == 0]
layout = numpy.dtype([("magic", "<u2"), ("t", "<u4"), ("a", "<i2", 3), ("g", "<i2", 3), ("sum", "u1")])
rows = numpy.ascontiguousarray(frames).view(layout)[:, 0]
os.makedirs(out, exist_ok=True)
numpy.save(os.path.join(out, "t.npy"), rows["t"].astype(numpy.int64))
numpy.save(os.path.join(out, "a.npy"), rows["a"].T * numpy.float32(9.80665 / float(accel)))
numpy.save(os.path.join(out, "g.npy"), rows["g"].T * numpy.float32(numpy.pi / 180 / float(gyro)))
print(len(rows))
