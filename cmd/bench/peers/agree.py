"""Compare what pipeline.py found with what strikerose found.

Usage: agree.py PEER FEATURES.npy. PEER is the folder that pipeline.py wrote into;
beside FEATURES.npy lie .rows.csv and .columns.csv. Prints as JSON how many strikes
each found, how many are within 10 ms of each other, and how far a few features
of these are apart: the median difference over the median size.
"""

import csv
import json
import os
import sys

import numpy as np

peer, ours = sys.argv[1:]
table = np.load(ours)
with open(ours + ".rows.csv") as f:
    rows = list(csv.DictReader(f))
with open(ours + ".columns.csv") as f:
    columns = [r["column"] for r in csv.DictReader(f)]
with open(os.path.join(peer, "columns.json")) as f:
    theirs = json.load(f)

pairs, found = [], 0
for name in sorted({r["session"] for r in rows}):
    mine = np.array([i for i, r in enumerate(rows) if r["session"] == name])
    at = np.array([float(rows[i]["onset_s"]) for i in mine])
    strikes = np.load(os.path.join(peer, name + "-strikes.npy"))[:, 0] / 1e9
    values = np.load(os.path.join(peer, name + "-features.npy"))
    found += len(strikes)
    if not len(strikes):
        continue
    nearest = np.clip(np.searchsorted(strikes, at), 1, max(len(strikes) - 1, 1))
    if len(strikes) == 1:
        nearest[:] = 0
    else:
        nearest -= (at - strikes[nearest - 1]) < (strikes[nearest] - at)
    close = np.abs(strikes[nearest] - at) <= 0.01
    pairs.append((mine[close], values[nearest[close]]))

mine = np.concatenate([p[0] for p in pairs]) if pairs else np.zeros(0, int)
other = np.concatenate([p[1] for p in pairs]) if pairs else np.zeros((0, len(theirs)))
apart = {}
for name in ("kick_x", "kick_y", "tip_x", "tip_y", "peak_y", "contact_ms", "accel_50_65_y", "rock_140_200_x", "swing_before"):
    x, y = table[mine, columns.index(name)], other[:, theirs.index(name)]
    apart[name] = float(np.median(np.abs(x - y)) / np.median(np.abs(x))) if len(x) else 1.0
json.dump({"ours": len(rows), "theirs": found, "both": len(mine), "apart": apart}, sys.stdout)
