"""Read a log of console text into arrays and save them, as fast as NumPy can.

Usage: console.py LOG OUT. Lines that are not whole records are left out,
and counted. Units become SI; the clock stays as it is.
"""

import os
import re
import sys

import numpy

log, out = sys.argv[1:]
with open(log, "rb") as f:
    text = f.read()
number = rb"-?\d+\.?\d*"
record = re.compile(rb"^t:\d+" + b"".join(rb" %s:%s" % (k, number) for k in (b"ax", b"ay", b"az", b"gx", b"gy", b"gz")) + rb"\r?$", re.M)
lines = record.findall(text)
table = numpy.fromstring(b"\n".join(lines).translate(None, b"taxgyz:\r"), dtype=numpy.float64, sep=" ").reshape(-1, 7)
os.makedirs(out, exist_ok=True)
numpy.save(os.path.join(out, "t.npy"), table[:, 0].astype(numpy.int64))
numpy.save(os.path.join(out, "a.npy"), (table[:, 1:4].T * 9.80665).astype(numpy.float32))
numpy.save(os.path.join(out, "g.npy"), numpy.radians(table[:, 4:7].T).astype(numpy.float32))
print(len(table))
