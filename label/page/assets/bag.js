// Two pictures of the bag: from above, and its skin laid flat.
import { colour, prepare, rad, wrap360, whole, faceCentre, faceOf } from "./common.js";

// middle is where a claim stands: its bearing or its face's middle, its height
// or its band's; null where it says neither.
export function middle(bag, s) {
  const deg = s.bearing_deg ?? (s.face ? faceCentre(s.face, bag.faces) : null);
  const b = bag.bands.find((x) => x.name === s.band);
  const m = s.height_m ?? (b ? (b.from_m + b.to_m) / 2 : null);
  return { deg, m };
}

// drawAbove shows the path of the specific force across the bag during the
// pulse, and who says what around it.
export function drawAbove(canvas, bag, path, says) {
  const [c, w, h] = prepare(canvas);
  const R = Math.min(w, h) / 2 - 15, at = (deg, r) => [r * Math.sin(rad(deg)), -r * Math.cos(rad(deg))];
  c.translate(w / 2, h / 2);
  c.textAlign = "center";
  c.textBaseline = "middle";
  for (let f = 1; f <= bag.faces; f++) {
    const mid = faceCentre(f, bag.faces), from = rad(mid - 180 / bag.faces - 90), to = rad(mid + 180 / bag.faces - 90);
    c.beginPath();
    c.moveTo(0, 0);
    c.arc(0, 0, R, from, to);
    c.closePath();
    c.fillStyle = colour(f % 2 ? "skin" : "skin2");
    c.fill();
    c.fillStyle = colour("soft");
    c.font = "600 12px system-ui";
    c.fillText(String(f), ...at(mid, R + 9));
  }
  for (const s of says) {
    const { deg } = middle(bag, s);
    if (deg === null || s.not_strike) continue;
    c.strokeStyle = c.fillStyle = colour(s.shade);
    c.lineWidth = 3;
    if (s.half_deg !== undefined) { // a detector: an arc over its 90 %
      const half = Math.min(180, s.half_deg);
      c.beginPath();
      c.arc(0, 0, R - 2, rad(deg - half - 90), rad(deg + half - 90));
      c.stroke();
      c.lineWidth = 1.5;
      c.beginPath();
      c.arc(...at(deg, R - 2), 4, 0, 7);
      c.stroke();
    } else if (s.bearing_deg === undefined || s.bearing_deg === null) { // a whole face
      c.setLineDash([4, 3]);
      c.beginPath();
      c.arc(0, 0, R - (s.you ? 8 : 5), rad(deg - 180 / bag.faces - 88), rad(deg + 180 / bag.faces - 92));
      c.stroke();
      c.setLineDash([]);
    }
    if (s.you) {
      c.beginPath();
      c.arc(...at(deg, R - 8), 5, 0, 7);
      c.fill();
    } else if (s.half_deg === undefined && s.bearing_deg != null) {
      const [x, y] = at(deg, R - 6);
      c.beginPath();
      c.moveTo(x, y - 5); c.lineTo(x + 5, y); c.lineTo(x, y + 5); c.lineTo(x - 5, y);
      c.fill();
    }
  }
  if (path.length > 1) {
    let most = 1;
    for (const p of path) most = Math.max(most, Math.hypot(p.x, p.y));
    const k = R * .8 / most;
    c.lineCap = "round";
    for (let i = 1; i < path.length; i++) {
      c.strokeStyle = colour("ink");
      c.globalAlpha = Math.max(.15, 1 - i / path.length);
      c.lineWidth = 2.6 * Math.max(.35, 1 - i / path.length);
      c.beginPath();
      c.moveTo(path[i - 1].x * k, -path[i - 1].y * k);
      c.lineTo(path[i].x * k, -path[i].y * k);
      c.stroke();
    }
    c.globalAlpha = 1;
  }
  c.fillStyle = colour("ink");
  c.beginPath();
  c.arc(0, 0, 2.5, 0, 7);
  c.fill();
}

// Skin is the bag's skin cut open opposite to nothing: face 1 at the left, as
// one walks round it clockwise.
export class Skin {
  constructor(canvas, bag, placed) {
    Object.assign(this, { canvas, bag, placed });
    let down = false;
    canvas.addEventListener("pointerdown", (e) => { down = true; canvas.setPointerCapture(e.pointerId); this.point(e); });
    canvas.addEventListener("pointermove", (e) => { if (down && e.offsetX > this.box.x && e.offsetY > this.box.y) this.point(e); });
    for (const t of ["pointerup", "pointercancel"]) canvas.addEventListener(t, () => { down = false; });
  }

  // point takes a place on the skin, a face from the heading or a band from the
  // margin.
  point(e) {
    const { x, y, w, h } = this.box, { faces, bands, length_m } = this.bag;
    const right = Math.min(w - 1e-6, Math.max(0, e.offsetX - x)) / w, up = 1 - Math.min(h, Math.max(0, e.offsetY - y)) / h;
    if (e.offsetX < x) {
      const b = bands.find((k) => up * length_m < k.to_m) || bands[bands.length - 1];
      this.placed({ band: b.name, height_m: null });
    } else if (e.offsetY < y) {
      this.placed({ face: 1 + Math.floor(right * faces), bearing_deg: null });
    } else {
      const deg = wrap360(right * 360 - 180 / faces);
      this.placed({ bearing_deg: Math.round(deg), height_m: Math.round(up * length_m * 100) / 100, face: faceOf(deg, faces) });
    }
  }

  draw(says, sensorM) {
    const [c, w, h] = prepare(this.canvas), { faces, bands, length_m } = this.bag;
    this.box = { x: 34, y: 18, w: w - 36, h: h - 20 };
    const { x, y } = this.box, W = this.box.w, H = this.box.h;
    const px = (deg) => x + wrap360(deg + 180 / faces) / 360 * W, py = (m) => y + (1 - m / length_m) * H;
    c.font = "11px system-ui";
    c.textAlign = "center";
    c.textBaseline = "middle";
    for (let f = 0; f < faces; f++) {
      c.fillStyle = colour(f % 2 ? "skin2" : "skin");
      c.fillRect(x + f * W / faces, y, W / faces, H);
      c.fillStyle = colour("soft");
      c.font = "600 12px system-ui";
      c.fillText(String(f + 1), x + (f + .5) * W / faces, 9);
    }
    c.font = "11px system-ui";
    for (const b of bands) {
      c.fillStyle = colour("soft");
      c.textAlign = "right";
      c.fillText(b.name.slice(0, 6), x - 4, py((b.from_m + b.to_m) / 2));
      c.strokeStyle = colour("panel");
      c.lineWidth = 1.5;
      c.beginPath();
      c.moveTo(x, py(b.from_m));
      c.lineTo(x + W, py(b.from_m));
      c.stroke();
    }
    if (sensorM !== undefined) {
      c.strokeStyle = colour("soft");
      c.setLineDash([1, 4]);
      c.beginPath();
      c.moveTo(x, py(sensorM));
      c.lineTo(x + W, py(sensorM));
      c.stroke();
      c.setLineDash([]);
    }
    c.save();
    c.beginPath();
    c.rect(x, y, W, H);
    c.clip();
    for (const s of says) {
      if (s.not_strike) continue;
      const { deg, m } = middle(this.bag, s);
      if (deg === null && m === null) continue;
      c.strokeStyle = c.fillStyle = colour(s.shade);
      const exact = s.bearing_deg != null && s.height_m != null;
      if (s.half_deg !== undefined) { // a detector: its 90 % field
        const rx = Math.min(W / 2, s.half_deg / 360 * W), ry = s.half_m / length_m * H;
        c.lineWidth = 2;
        for (const turn of [-W, 0, W]) {
          c.beginPath();
          c.ellipse(px(deg) + turn, py(m), Math.max(3, rx), Math.max(3, ry), 0, 0, 7);
          c.stroke();
        }
      } else if (!exact) { // a face, a band or both
        const b = bands.find((k) => k.name === s.band);
        const x0 = deg === null ? x : s.bearing_deg != null ? px(deg) - 3 : x + (s.face - 1) * W / faces;
        const wide = deg === null ? W : s.bearing_deg != null ? 6 : W / faces;
        const y0 = s.height_m != null ? py(m) - 3 : b ? py(b.to_m) : y, tall = s.height_m != null ? 6 : b ? py(b.from_m) - py(b.to_m) : H;
        c.lineWidth = s.you ? 3 : 2;
        c.setLineDash(s.you ? [] : [5, 3]);
        c.globalAlpha = s.you ? .25 : .12;
        c.fillRect(x0, y0, wide, tall);
        c.globalAlpha = 1;
        c.strokeRect(x0 + 2, y0 + 2, wide - 4, tall - 4);
        c.setLineDash([]);
      }
      if (s.you && deg !== null && m !== null) {
        c.beginPath();
        c.arc(px(deg), py(m), exact ? 6 : 4, 0, 7);
        c.fill();
        if (exact) {
          c.lineWidth = 1;
          c.beginPath();
          c.moveTo(px(deg), y); c.lineTo(px(deg), y + H);
          c.moveTo(x, py(m)); c.lineTo(x + W, py(m));
          c.globalAlpha = .5;
          c.stroke();
          c.globalAlpha = 1;
        }
        if (s.text) {
          c.font = "700 11px system-ui";
          c.textAlign = "left";
          c.fillText(s.text, px(deg) + 8, py(m));
        }
      } else if (exact && s.half_deg === undefined) {
        const X = px(deg), Y = py(m);
        c.beginPath();
        c.moveTo(X, Y - 6); c.lineTo(X + 6, Y); c.lineTo(X, Y + 6); c.lineTo(X - 6, Y);
        c.fill();
      }
    }
    c.restore();
  }
}

// words says a place in words.
export function words(bag, s) {
  if (s.not_strike) return "not a strike";
  const parts = [];
  if (s.face) parts.push("face " + s.face);
  if (s.bearing_deg != null) parts.push(`${whole(s.bearing_deg)}°`);
  if (s.band) parts.push(s.band);
  if (s.height_m != null) parts.push(`${Math.round(s.height_m * 100)} cm`);
  if (s.kind) parts.push(s.kind);
  if (s.pair) parts.push(s.pair === "one" ? "first of two" : "second of two");
  return parts.join(", ") || "nothing said yet";
}
