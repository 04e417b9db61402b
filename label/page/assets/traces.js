// The traces: every channel against time, drawn from columns or samples that
// the server sends for just what is in view.
import { colour, getBytes, prepare } from "./common.js";

const names = ["across", "→ 90°", "→ 0°", "up", "spin → 90°", "spin → 0°", "spin up"];
const units = ["m/s²", "m/s²", "m/s²", "m/s²", "rad/s", "rad/s", "rad/s"];
const least = [2, 2, 2, 2, .3, .3, .3]; // range that a lane shows at least
const shades = ["a0", "a1", "a2", "a3", "a1", "a2", "a3"];

// fetchPicture asks for [from, to) nanoseconds in columns.
export async function fetchPicture(session, from, to, columns, signal) {
  const q = new URLSearchParams({ session, from_ns: Math.round(from), to_ns: Math.round(to), columns: Math.max(1, Math.min(4000, Math.round(columns))) });
  const data = await getBytes("/api/traces?" + q, signal);
  const size = new DataView(data).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, size)));
  const all = new Float32Array(data, 4 + size);
  const part = (i) => all.subarray(i * head.n, (i + 1) * head.n);
  if (head.points) {
    head.times = part(0);
    head.values = Array.from({ length: head.channels }, (_, c) => part(1 + c));
  } else {
    head.low = Array.from({ length: head.channels }, (_, c) => part(2 * c));
    head.high = Array.from({ length: head.channels }, (_, c) => part(2 * c + 1));
  }
  return head;
}

// range is the least and largest value of a channel in view.
function range(p, c) {
  let lo = Infinity, hi = -Infinity;
  for (const list of p.points ? [p.values[c]] : [p.low[c], p.high[c]]) {
    for (const v of list) { if (v < lo) lo = v; if (v > hi) hi = v; }
  }
  return [lo, hi];
}

// drawLane draws one channel between x0 and x1.
function drawLane(c, p, ch, view, box, [lo, hi]) {
  const y = (v) => box.y + box.h - (v - lo) / (hi - lo) * box.h;
  const x = (ns) => box.x + (ns - view.from) / (view.to - view.from) * box.w;
  c.beginPath();
  if (p.points) {
    let pen = false;
    const v = p.values[ch];
    for (let i = 0; i < p.n; i++) {
      if (Number.isNaN(v[i])) { pen = false; continue; }
      const px = x(p.from_ns + p.times[i] * 1e6), py = y(v[i]);
      if (pen) c.lineTo(px, py); else c.moveTo(px, py);
      pen = true;
    }
    c.lineWidth = 1.4;
    c.stroke();
    if (p.n < box.w / 5) {
      for (let i = 0; i < p.n; i++) c.fillRect(x(p.from_ns + p.times[i] * 1e6) - 1.2, y(v[i]) - 1.2, 2.4, 2.4);
    }
    return;
  }
  const step = (p.to_ns - p.from_ns) / p.n, wide = Math.max(1, step / (view.to - view.from) * box.w);
  for (let i = 0; i < p.n; i++) {
    if (Number.isNaN(p.low[ch][i])) continue;
    const top = y(p.high[ch][i]), bottom = y(p.low[ch][i]);
    c.rect(x(p.from_ns + i * step), top, wide, Math.max(1, bottom - top));
  }
  c.fill();
}

// ticks are round times in view, at least 70 pixels apart.
function ticks(view, width) {
  const span = (view.to - view.from) / 1e9, want = span / Math.max(1, width / 75);
  let step = 10 ** Math.floor(Math.log10(want));
  for (const k of [1, 2, 5, 10]) if (step * k >= want) { step *= k; break; }
  const out = [];
  for (let t = Math.ceil(view.from / 1e9 / step) * step; t <= view.to / 1e9; t += step) out.push([t, t.toFixed(Math.max(0, -Math.floor(Math.log10(step) + 1e-9)))]);
  return out;
}

// Traces is the large picture.
export class Traces {
  constructor(canvas, session, { endNs, marks, moved, picked, trouble }) {
    Object.assign(this, { canvas, session, endNs, marks, moved, picked, trouble, view: { from: 0, to: 1e9 }, picture: null, cursor: null });
    this.gestures();
    addEventListener("resize", () => this.show(this.view.from, this.view.to));
    // A picture that was asked for before the page was laid out has too few columns.
    let wide = 0;
    new ResizeObserver(() => {
      if (canvas.clientWidth === wide) return;
      wide = canvas.clientWidth;
      this.draw();
      this.fetch();
    }).observe(canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  // show moves the view, keeping it in the session.
  show(from, to) {
    const span = Math.max(2e6, Math.min(this.endNs + 2e8, to - from));
    from = Math.max(-1e8, Math.min(from, this.endNs + 1e8 - span));
    this.view = { from, to: from + span };
    this.draw();
    this.moved(this.view);
    this.fetch();
  }

  pan(share) { const s = this.view.to - this.view.from; this.show(this.view.from + share * s, this.view.to + share * s); }

  zoom(factor, at = (this.view.from + this.view.to) / 2) {
    this.show(at - (at - this.view.from) * factor, at + (this.view.to - at) * factor);
  }

  // fetch asks for the view; while one answer is under way only the latest wish
  // waits.
  async fetch() {
    if (this.asking) { this.again = true; return; }
    this.asking = true;
    do {
      this.again = false;
      const { from, to } = this.view, margin = (to - from) / 2;
      try {
        const p = await fetchPicture(this.session, from - margin, to + margin, 2 * this.canvas.clientWidth * Math.min(2, devicePixelRatio || 1));
        this.picture = p;
        this.trouble(p.problem || "");
        this.draw();
        if (p.built < 1 && !p.points && (to - from) > 3e11 && !p.problem) setTimeout(() => this.fetch(), 300);
      } catch (e) {
        this.trouble("traces: " + e.message);
        setTimeout(() => this.fetch(), 2000);
        break;
      }
    } while (this.again);
    this.asking = false;
  }

  x(ns) { return this.box.x + (ns - this.view.from) / (this.view.to - this.view.from) * this.box.w; }
  at(px) { return this.view.from + (px - this.box.x) / this.box.w * (this.view.to - this.view.from); }

  draw() {
    const [c, w, h] = prepare(this.canvas);
    const p = this.picture, n = p ? p.channels : 7, small = w < 500;
    this.box = { x: 0, y: 14, w, h: h - 30 };
    const lane = this.box.h / n;
    c.font = `${small ? 10 : 11}px system-ui`;
    // pulses and onsets below the traces
    for (const m of this.marks()) {
      const x = this.x(m.onset_ns);
      if (m.pulse && m.until_ns) {
        c.fillStyle = colour("pulse");
        c.fillRect(x, this.box.y, Math.max(2, this.x(m.until_ns) - x), this.box.h);
      }
      if (x < -20 || x > w + 20) continue;
      c.strokeStyle = c.fillStyle = colour(m.shade);
      c.lineWidth = m.now ? 2 : 1;
      c.setLineDash(m.dashed ? [4, 3] : []);
      c.globalAlpha = m.now ? 1 : .55;
      c.beginPath();
      c.moveTo(x, 12);
      c.lineTo(x, h - 16);
      c.stroke();
      c.globalAlpha = 1;
      c.textAlign = "center";
      c.fillText(m.text, x, 10);
    }
    c.setLineDash([]);
    c.textAlign = "left";
    if (p) {
      const ranges = Array.from({ length: n }, (_, k) => range(p, k));
      // what is measured alike is drawn to one scale
      const shared = (list) => Math.max(...list.map((k) => (ranges[k] ? ranges[k][1] - ranges[k][0] : 0)).filter(Number.isFinite), 0);
      const spans = [shared([0, 1, 2]), shared([4, 5, 6])];
      for (let k = 0; k < n; k++) {
        let [lo, hi] = ranges[k];
        const top = this.box.y + k * lane;
        c.strokeStyle = colour("line");
        c.lineWidth = 1;
        c.beginPath();
        c.moveTo(0, Math.round(top) + .5);
        c.lineTo(w, Math.round(top) + .5);
        c.stroke();
        if (Number.isFinite(lo)) {
          const span = Math.max(least[k], k === 3 ? hi - lo : spans[k > 3 ? 1 : 0]), mid = (lo + hi) / 2;
          [lo, hi] = k === 0 ? [0, Math.max(span, hi)] : [mid - span / 2, mid + span / 2];
          c.strokeStyle = c.fillStyle = colour(shades[k]);
          drawLane(c, p, k, this.view, { x: 0, y: top + 4, w, h: lane - 8 }, [lo, hi]);
        }
        const words = `${names[k]}` + (Number.isFinite(lo) && !small ? `  ${hi - lo >= 10 ? Math.round(hi - lo) : (hi - lo).toFixed(1)} ${units[k]} high` : "");
        c.fillStyle = colour("panel");
        c.globalAlpha = .75;
        c.fillRect(0, top + 2, c.measureText(words).width + 8, 14);
        c.globalAlpha = 1;
        c.fillStyle = colour("soft");
        c.fillText(words, 4, top + 13);
      }
      c.strokeStyle = colour("wrong");
      c.setLineDash([2, 4]);
      for (const ns of p.breaks) {
        const x = this.x(ns);
        c.beginPath();
        c.moveTo(x, this.box.y);
        c.lineTo(x, h - 16);
        c.stroke();
      }
      c.setLineDash([]);
    } else {
      c.fillStyle = colour("soft");
      c.fillText("reading the samples…", 8, h / 2);
    }
    if (this.cursor !== null) {
      c.strokeStyle = colour("ink");
      c.setLineDash([1, 3]);
      c.beginPath();
      c.moveTo(this.x(this.cursor), this.box.y);
      c.lineTo(this.x(this.cursor), h - 16);
      c.stroke();
      c.setLineDash([]);
    }
    c.fillStyle = colour("soft");
    c.textAlign = "center";
    for (const [t, text] of ticks(this.view, w)) {
      const at = this.x(t * 1e9), words = text + " s", half = c.measureText(words).width / 2;
      c.fillRect(at, h - 16, 1, 4);
      c.fillText(words, Math.min(Math.max(at, half), w - half), h - 2); // whole at the ends, too
    }
  }

  gestures() {
    const touches = new Map();
    let start = null;
    const c = this.canvas;
    c.addEventListener("pointerdown", (e) => {
      c.setPointerCapture(e.pointerId);
      touches.set(e.pointerId, e.offsetX);
      start = { view: { ...this.view }, at: [...touches.values()], far: false, x: e.offsetX };
    });
    c.addEventListener("pointermove", (e) => {
      if (!touches.has(e.pointerId) || !start) return;
      touches.set(e.pointerId, e.offsetX);
      const now = [...touches.values()], span = start.view.to - start.view.from;
      if (Math.abs(e.offsetX - start.x) > 4) start.far = true;
      if (now.length >= 2) {
        const wide = Math.max(10, Math.abs(now[0] - now[1])), was = Math.max(10, Math.abs(start.at[0] - start.at[1]));
        const next = span * was / wide, mid = start.view.from + (start.at[0] + start.at[1]) / 2 / this.box.w * span;
        const from = mid - (now[0] + now[1]) / 2 / this.box.w * next;
        this.show(from, from + next);
      } else if (start.far) {
        const by = (start.x - e.offsetX) / this.box.w * span;
        this.show(start.view.from + by, start.view.to + by);
      }
    });
    const up = (e) => {
      touches.delete(e.pointerId);
      if (e.type === "pointerup" && start && !start.far && touches.size === 0) this.picked(this.at(e.offsetX));
      start = touches.size ? { view: { ...this.view }, at: [...touches.values()], far: true, x: [...touches.values()][0] } : null;
    };
    c.addEventListener("pointerup", up);
    c.addEventListener("pointercancel", up);
    c.addEventListener("wheel", (e) => {
      e.preventDefault();
      if (Math.abs(e.deltaX) > Math.abs(e.deltaY) || e.shiftKey) this.pan((e.deltaX || e.deltaY) / 1000);
      else this.zoom(Math.exp(e.deltaY / 400), this.at(e.offsetX));
    }, { passive: false });
  }
}

// Strip is the whole session in one line.
export class Strip {
  constructor(canvas, session, { endNs, marks, picked }) {
    Object.assign(this, { canvas, session, endNs, marks, picked, picture: null, view: { from: 0, to: 0 } });
    canvas.addEventListener("pointerdown", (e) => { this.drag = true; canvas.setPointerCapture(e.pointerId); this.pick(e); });
    canvas.addEventListener("pointermove", (e) => { if (this.drag) this.pick(e); });
    for (const t of ["pointerup", "pointercancel"]) canvas.addEventListener(t, () => { this.drag = false; });
    addEventListener("resize", () => this.draw());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
    this.fetch();
  }

  pick(e) { this.picked(e.offsetX / this.canvas.clientWidth * this.endNs); }

  async fetch() {
    try {
      this.picture = await fetchPicture(this.session, 0, this.endNs + 1, 1200);
      this.draw();
      if (this.picture.built < 1 && !this.picture.problem) setTimeout(() => this.fetch(), 400);
    } catch { setTimeout(() => this.fetch(), 2000); }
  }

  draw() {
    const [c, w, h] = prepare(this.canvas);
    const view = { from: 0, to: this.endNs }, x = (ns) => ns / this.endNs * w;
    c.fillStyle = colour("pulse");
    c.fillRect(x(this.view.from), 0, Math.max(3, x(this.view.to) - x(this.view.from)), h);
    if (this.picture) {
      const [, hi] = range(this.picture, 0);
      c.fillStyle = c.strokeStyle = colour("soft");
      drawLane(c, this.picture, 0, view, { x: 0, y: 2, w, h: h - 12 }, [0, Math.max(2, hi)]);
    }
    for (const m of this.marks()) {
      c.fillStyle = colour(m.shade);
      const tall = m.now ? 10 : 6;
      c.fillRect(x(m.onset_ns) - (m.now ? 1.5 : .5), h - tall, m.now ? 3 : 1, tall);
    }
  }
}
