"""Find strikes in bare columns and compute their features, with NumPy and SciPy.

Usage: pipeline.py CONFIG OUT FOLDER... A FOLDER holds the columns of one session,
t_ns.i8, segment.i4, ax.f4 to gz.f4. CONFIG is JSON about the rig. For each session
OUT/NAME-strikes.npy and OUT/NAME-features.npy are written; the number of strikes is
printed. The steps are those of strikerose find and features, each vectorised over
samples, events or strikes where that can be done.
"""

import json
import os
import sys

import numpy as np
from scipy.signal import find_peaks, peak_widths

G = 9.80665
EDGES = [-1, 4, 8, 12, 18, 25, 35, 50, 65, 100, 140, 200, 260, 350]
PRE, POST = 300, 350  # window, ms

with open(sys.argv[1]) as f:
    rig = json.load(f)
out = sys.argv[2]
rate = rig["rate_hz"]
turn = np.array(rig["sensor_to_bag"])
mass = rig["mass_kg"]


def count(ms):
    return int(np.floor(ms * rate / 1000 + 0.5))


k = max(2, count(8))
lag = 3 * (3 * k - k) // 2


def read(folder):
    t = np.fromfile(os.path.join(folder, "t_ns.i8"), dtype=np.int64)
    segment = np.fromfile(os.path.join(folder, "segment.i4"), dtype=np.int32)
    channels = [np.fromfile(os.path.join(folder, c + ".f4"), dtype=np.float32) for c in ("ax", "ay", "az", "gx", "gy", "gz")]
    return t, segment, channels


def regular(t, channels):
    """Put one segment on a regular grid, filling short losses by lines."""
    steps = np.rint(np.diff(t) * (rate / 1e9)).astype(np.int64)
    steps = np.maximum(steps, 1)
    if steps.max(initial=1) == 1:
        return t, [c.astype(np.float64) for c in channels], np.zeros(len(t), bool)
    at = np.concatenate(([0], np.cumsum(steps)))
    grid = np.arange(at[-1] + 1)
    filled = np.ones(len(grid), bool)
    filled[at] = False
    return np.interp(grid, at, t), [np.interp(grid, at, c) for c in channels], filled


def despike(a, noise):
    """Replace runs of one to three readings that stand off by the line across them."""
    d2 = np.diff(a[0]) ** 2 + np.diff(a[1]) ** 2 + np.diff(a[2]) ** 2
    starts = np.flatnonzero(d2 > (6 * noise) ** 2) + 1
    starts = starts[(starts >= 2) & (starts < a.shape[1] - 5)]
    for width in (1, 2, 3):
        if not len(starts):
            return
        before, after = a[:, starts - 1], a[:, starts + width]
        beside = np.sqrt(((before - a[:, starts - 2]) ** 2).sum(0)) + np.sqrt(((a[:, starts + width + 1] - after) ** 2).sum(0))
        least = np.full(len(starts), np.inf)
        for j in range(width):
            line = before + (after - before) * ((j + 1) / (width + 1))
            least = np.minimum(least, np.sqrt(((a[:, starts + j] - line) ** 2).sum(0)))
        bad = least > 4 * np.maximum(beside, noise)
        for j in range(width):
            a[:, starts[bad] + j] = before[:, bad] + (after - before)[:, bad] * ((j + 1) / (width + 1))
        starts = starts[~bad]


def noise_of(a):
    """The noise of one axis, from the third difference of the first seconds."""
    head = a[:2, : int(2 * rate)]
    return float(np.median(np.abs(np.diff(head, 3))) / 0.6745 / np.sqrt(20))


def boxcars(sums, n, size):
    """The second difference of means over size samples that ends with sample n."""
    return (-sums[n + 1] + 3 * sums[n + 1 - size] - 3 * sums[n + 1 - 2 * size] + sums[n + 1 - 3 * size]) / (2 * size)


def envelope(sums, size):
    """The size of the second difference on both axes, 0 where there is not enough before."""
    total = np.zeros(sums.shape[1] - 1)
    for s in sums[:2]:
        d = 3 * (s[2 * size : -size] - s[size : -2 * size]) + (s[: -3 * size] - s[3 * size :])
        total[3 * size - 1 :] += d * d
    return np.sqrt(total, out=total) / (2 * size)


def levels(a, g):
    """Resting readings at the end of each block of a swing: weighted running means."""
    size = int(round(rig["swing_s"] * rate))
    blocks = a.shape[1] // size
    usual = np.array([0.3, 0.3, 0.03, 0.03, 0.03])[:, None]
    if blocks == 0:
        return size, np.zeros((5, 1))
    x = np.stack([c[: blocks * size].reshape(blocks, size) for c in (a[0], a[1], g[0], g[1], g[2])])
    mean, spread = x.mean(2), x.var(2)
    spread[:2] = spread[:2].mean(0)
    spread[2:4] = spread[2:4].mean(0)
    weight = 1 / (0.05 * spread + (0.01 * usual) ** 2)
    level = np.cumsum(weight * mean, 1) / (np.cumsum(weight, 1) + 1 / usual**2)
    return size, np.concatenate((np.zeros((5, 1)), level), 1)


def onsets(a, peaks, noise):
    """Place the onset of each event by the Akaike criterion (Maeda 1985)."""
    before = count(35)
    length = before + 3 * k // 2 + 1
    n = peaks[:, None] - length + 1 + np.arange(length)
    x, y = a[0][n], a[1][n]
    x = x - x[:, : before // 2].mean(1, keepdims=True)
    y = y - y[:, : before // 2].mean(1, keepdims=True)
    size = x * x + y * y
    top = size.argmax(1)
    rows = np.arange(len(peaks))
    scale = np.sqrt(size[rows, top])
    line = (x[rows, top] / scale)[:, None] * x + (y[rows, top] / scale)[:, None] * y
    line[np.arange(length) > top[:, None]] = 0
    total, square = np.cumsum(line, 1), np.cumsum(line * line, 1)
    c = np.arange(1, length + 1)
    many = (top + 1)[:, None]
    right = np.maximum(many - c, 1)
    floor = noise * noise / 4
    first = np.maximum(square / c - (total / c) ** 2, floor)
    rest, rest2 = total[:, -1:] - total, square[:, -1:] - square
    second = np.maximum(rest2 / right - (rest / right) ** 2, floor)
    criterion = c * np.log(first) + right * np.log(second)
    criterion[(c < 2) | (c > many - 2)] = np.inf
    return peaks - length + 1 + criterion.argmin(1) + 1 - 1


def events(a, noise):
    """Find the strikes of one segment: their onsets."""
    sums = np.concatenate((np.zeros((3, 1)), np.cumsum(a, 1)), 1)
    short = envelope(sums, k)
    level = max(12 * np.sqrt(1.5 / k) * noise, 10.5 / mass)
    peaks, _ = find_peaks(short, height=level, distance=count(120))
    peaks = peaks[(peaks > 12 * k) & (peaks < a.shape[1] - count(60))]
    if not len(peaks):
        return np.zeros(0, np.int64)
    size = short[peaks]
    around = peaks[:, None] + np.arange(lag + 1)
    long = np.sqrt(boxcars(sums[0], around, 3 * k) ** 2 + boxcars(sums[1], around, 3 * k) ** 2).max(1)
    near = peaks[:, None] + np.arange(-2 * k, k)
    vertical = np.abs(boxcars(sums[2], near, k)).max(1)
    wide = peaks[:, None] + np.arange(-3 * k - 2, count(25))
    raw2 = 0
    for c in a[:2]:
        w = c[wide]
        d = w[:, 1:-1] - (w[:, 2:] + w[:, :-2]) / 2
        raw2 = raw2 + d * d
    raw = np.sqrt(raw2.max(1))
    at = onsets(a, peaks, noise)

    def mean(axis, from_ms, to_ms):
        i, j = np.maximum(at + count(from_ms), 0), np.minimum(at + count(to_ms) + 1, a.shape[1])
        return (sums[axis][j] - sums[axis][i]) / (j - i)

    along = across = 0
    for axis in (0, 1):
        base = mean(axis, -30, -4)
        early, late = mean(axis, 2, 18) - base, mean(axis, 28, 44) - base
        along, across = along + early * late, across + early * early
    tail = along / np.maximum(across, 1e-12)
    blip = raw > 2 * size
    swing = size < 0.45 * long
    shove = (size < long) & (size < 87.5 / mass) & (tail > 0.6)
    upright = vertical > 0.9 * size
    keep = []
    last, last_size = -(10**12), 0.0
    dead, snatch = count(120), count(800)
    for i, (n, onset, s) in enumerate(zip(peaks.tolist(), at.tolist(), size.tolist())):
        ago = (n - last) / rate
        ring = last_size * (0.15 * np.exp((0.12 - ago) / 0.05) + 0.02 * np.exp(-ago)) if last_size else 0
        if onset < last + dead or s < ring or blip[i] or swing[i] or shove[i]:
            continue
        if upright[i] and s < 0.3 * last_size and n - last <= snatch:
            continue
        keep.append(onset)
        last, last_size = onset, s
    return np.array(keep, np.int64)


def unclip(window, clipped):
    """Refill clipped runs of one axis by a cubic Hermite across them."""
    edge = np.flatnonzero(np.diff(np.concatenate(([0], clipped.astype(np.int8), [0]))))
    for first, end in zip(edge[::2], edge[1::2]):
        if first < 2 or end > len(window) - 2:
            continue
        p, q = window[first - 1], window[end]
        dp, dq = window[first - 1] - window[first - 2], window[end + 1] - window[end]
        h = end - first + 1
        s = np.arange(1, h) / h
        window[first:end] = (1 + 2 * s) * (1 - s) ** 2 * p + s * (1 - s) ** 2 * h * dp + s * s * (3 - 2 * s) * q - s * s * (1 - s) * h * dq


def features(a, g):
    """The features of windows, accelerations a and rotation rates g, [axis, strike, sample]."""
    pre = count(PRE)

    def mean(x, from_ms, to_ms):
        return x[:, pre + count(from_ms) : pre + count(to_ms)].mean(1)

    def across(f, t):
        return mean(a[1], f, t) + 1j * mean(a[0], f, t)

    def rock(f, t):
        return -mean(g[0], f, t) + 1j * mean(g[1], f, t)

    def dot(p, q):
        return p.real * q.real + p.imag * q.imag

    def square(p):
        return p.real**2 + p.imag**2

    def over(p, q):
        return np.divide(p, q, out=np.zeros_like(p), where=q != 0)

    def alignment(p, q):
        return over(dot(p, q), square(p) + square(q))

    before, up = across(-25, -5), mean(a[2], -25, -5)
    rock_before, spin_before = rock(-25, -5), mean(g[2], -25, -5)
    kick = across(-3, 22) * 0.025
    tip = rock(20, 32) - rock_before
    twist = mean(g[2], 20, 32) - spin_before
    centre = kick - rig["sensor_m"] * tip
    columns = {"kick": kick, "lift": (mean(a[2], -3, 22) - G) * 0.025, "tip": tip, "twist": twist, "centre_kick": centre}

    push = a[1] + 1j * a[0] - before[:, None]
    pulse = push[:, pre + count(-1) : pre + count(25)]
    rows = np.arange(len(pulse))
    peak = pulse[rows, square(pulse).argmax(1)]
    first = (across(-1, 12) - before) * 0.013
    s, q = square(pulse).sum(1), (pulse * pulse).sum(1)
    along = (s + np.abs(q)) / 2
    axis = np.sqrt(along / pulse.shape[1]) * np.exp(0.5j * np.angle(q))
    axis = np.where(dot(axis, first) < 0, -axis, axis)
    columns.update(peak=peak, first_motion=first, principal_axis=axis, rectilinearity=1 - over(np.maximum(0, s - along), along))
    unit = np.where(dot(axis, peak) < 0, -axis, axis)
    unit = unit / np.maximum(np.abs(unit), 1e-12)
    lines = dot(push[:, pre + count(-10) : pre + count(50)], unit[:, None])
    rise, width = np.zeros(len(rows)), np.zeros(len(rows))
    for i, x in enumerate(lines):
        found, told = find_peaks(x, prominence=0)
        if not len(found):
            continue
        b = told["prominences"].argmax()
        top = found[b]
        width[i] = peak_widths(x, [top], 0.5, tuple(told[n][b : b + 1] for n in ("prominences", "left_bases", "right_bases")))[0][0] / rate * 1000

        def crossing(level):
            under = np.flatnonzero(x[:top] < level)
            if not len(under):
                return 0.0
            j = under[-1] + 1
            return j - (x[j] - level) / (x[j] - x[j - 1])

        rise[i] = (crossing(0.9 * x[top]) - crossing(0.1 * x[top])) / rate * 1000
    columns.update(rise_ms=rise, contact_ms=width)

    r = rig["gyration_m"]
    columns.update(
        vertical_ratio=over(mean(a[2], -1, 25) - up, np.sqrt(square(pulse).mean(1))),
        kick_to_tip=alignment(kick, r * tip),
        lever=r * r * over(dot(tip, centre), square(centre)),
        oblique=rig["twist_m"] * over(twist, np.abs(centre)),
    )
    contact = across(-3, 22)
    columns.update(kick_to_rocking=alignment(contact, across(35, 65) - before), kick_to_late_rocking=alignment(contact, across(65, 140) - before))
    for f, t in zip(EDGES[:-1], EDGES[1:]):
        name = "_%s_%d" % ("m1" if f < 0 else f, t)
        columns["accel" + name] = across(f, t) - before
        columns["rock" + name] = rock(f, t) - rock_before
        columns["spin" + name] = mean(g[2], f, t) - spin_before
        columns["vertical" + name] = mean(a[2], f, t) - up
    columns.update(accel_before=before, rock_before=rock_before, spin_before=spin_before)
    for f, t in ((60, 25), (150, 60), (300, 150)):
        name = "_%d_%d_before" % (f, t)
        columns["accel" + name] = across(-f, -t) - before
        columns["rock" + name] = rock(-f, -t) - rock_before
    earlier = push[:, pre + count(-150) : pre + count(-5)] + before[:, None]
    columns["swing_before"] = np.sqrt(square(earlier).mean(1))

    names, table = [], []
    for name, v in columns.items():
        if np.iscomplexobj(v):
            names += [name + "_x", name + "_y"]
            table += [v.imag, v.real]
        else:
            names.append(name)
            table.append(v)
    return names, np.stack(table, 1)


def session(folder):
    t, segment, channels = read(folder)
    breaks = np.flatnonzero((np.diff(segment) != 0) | (np.diff(t) > 6.5e9 / rate)) + 1
    limit = rig["limit_mps2"]
    noise = None
    strikes, tables, names = [], [], []
    for first, end in zip(np.concatenate(([0], breaks)), np.concatenate((breaks, [len(t)]))):
        if end - first < 30 * k:
            continue
        times, x, filled = regular(t[first:end], [c[first:end] for c in channels])
        x = np.stack(x)
        clipped = np.abs(x[:3]) >= 0.999 * limit
        a, g = turn @ x[:3], turn @ x[3:]
        if noise is None:
            noise = rig["noise_mps2"] or noise_of(a)
        despike(a, noise)
        at = events(a, noise)
        if not len(at):
            continue
        size, level = levels(a, g)
        level = level[:, np.minimum((at + count(60)) // size, level.shape[1] - 1)]
        n = np.clip(at[:, None] + np.arange(-count(PRE), count(POST)), 0, a.shape[1] - 1)
        wa, wg = a[:, n], g[:, n]
        wa[:2] -= level[:2, :, None]
        wg -= level[2:, :, None]
        pre = count(PRE)
        contact = slice(pre, pre + count(30))
        peaks = np.sqrt(wa[0][:, contact] ** 2 + wa[1][:, contact] ** 2).max(1)
        wc = clipped[:, n]
        is_clipped = wc[:, :, contact].any((0, 2))
        around = slice(pre + count(-10), pre + count(30))
        for i in np.flatnonzero(is_clipped):
            for axis in range(3):
                if wc[axis, i, around].any():
                    unclip(wa[axis, i, around], wc[axis, i, around])
        near = filled[n][:, pre + count(-30) :].any(1) | (at < count(30)) | (at > a.shape[1] - count(POST))
        strikes.append(np.stack((times[at], times[np.minimum(at + count(POST), len(times) - 1)], peaks, is_clipped, near), 1))
        names, table = features(wa, wg)
        tables.append(table)
    name = os.path.basename(folder)
    strikes = np.concatenate(strikes) if strikes else np.zeros((0, 5))
    np.save(os.path.join(out, name + "-strikes.npy"), strikes)
    np.save(os.path.join(out, name + "-features.npy"), np.concatenate(tables) if tables else np.zeros((0, 0)))
    with open(os.path.join(out, "columns.json"), "w") as f:
        json.dump(names, f)
    return len(strikes)


os.makedirs(out, exist_ok=True)
print(sum(session(folder) for folder in sys.argv[3:]))
