// The sessions, how far each is labelled, and what the labels cover.
import { $, el, get, hello, labeller, colour, prepare, rad } from "./common.js";

const state = $("state");

async function start() {
  const h = await hello();
  if (h.labeller && !labeller.get()) labeller.set(h.labeller);
  $("labeller").value = labeller.get();
  $("labeller").addEventListener("input", () => labeller.set($("labeller").value));
  await refresh();
  setInterval(refresh, 10000);
  addEventListener("focus", refresh);
}

async function refresh() {
  try {
    show(await get("/api/sessions"));
    state.textContent = "";
    state.hidden = true;
  } catch (e) {
    state.hidden = false;
    state.className = "saved wrong";
    state.textContent = "no connection: what is shown may be old";
  }
}

function show(o) {
  const rows = o.sessions.map((s) => {
    const cell = (n, word) => el("td", { className: "num", data: { word } }, String(n));
    const lead = el("td", { className: "lead" },
      el("a", { href: "/session?name=" + encodeURIComponent(s.name) }, s.name), " ",
      el("span", { className: "soft small" }, [s.striker, s.rig, `${Math.round(s.duration_s)} s`].filter(Boolean).join(", ")));
    if (s.problem) lead.append(el("div", { className: "message wrong small" }, s.problem));
    const all = Math.max(1, s.found + s.missed);
    const bar = el("div", { className: "bar", role: "img" });
    bar.setAttribute("aria-label", `${Math.round(100 * (s.labelled + s.rejected) / all)} % done`);
    for (const [kind, n] of [["yes", s.labelled], ["no", s.rejected], ["plan", s.planned]]) {
      const part = el("i", { className: kind });
      part.style.width = `${100 * n / all}%`;
      bar.append(part);
    }
    return el("tr", {}, lead, cell(s.found, "found"), cell(s.labelled, "labelled"), cell(s.planned, "planned"), cell(s.doubtful, "doubtful"),
      cell(s.rejected, "rejected"), cell(s.missed, "added"), el("td", { className: "lead" }, bar));
  });
  document.querySelector("#sessions tbody").replaceChildren(...rows);
  $("empty").hidden = rows.length > 0;
  $("empty").textContent = "The corpus holds no sessions yet: strikerose import brings a log in, strikerose find finds its strikes.";
  const roses = $("roses");
  if (roses.childElementCount !== 3 * o.roses.length) {
    roses.replaceChildren(...o.roses.flatMap((r) => [el("h3", {}, "rig " + r.bag.key), el("canvas", { role: "img" }), el("p", { className: "small soft" })]));
    for (const c of roses.querySelectorAll("canvas")) c.style.height = "280px";
  }
  const canvases = roses.querySelectorAll("canvas"), texts = roses.querySelectorAll("p");
  o.roses.forEach((r, i) => drawRose(canvases[i], texts[i], r));
}

function drawRose(canvas, text, r) {
  const [c, w, h] = prepare(canvas);
  const { faces, bands } = r.bag, R = Math.min(w, h) / 2 - 18, hole = R * .22;
  c.translate(w / 2, h / 2);
  c.font = "12px system-ui";
  c.textAlign = "center";
  c.textBaseline = "middle";
  let have = 0;
  const open = [];
  for (let f = 0; f < faces; f++) {
    const from = rad((f - .5) * 360 / faces - 90), to = rad((f + .5) * 360 / faces - 90);
    bands.forEach((b, k) => {
      const n = r.count[f][k], share = Math.min(1, n / r.wanted);
      have += Math.min(n, r.wanted);
      if (n < r.wanted) open.push([n, f + 1, b.name]);
      const r0 = hole + (R - hole) * k / bands.length, r1 = hole + (R - hole) * (k + 1) / bands.length;
      c.beginPath();
      c.arc(0, 0, r1, from, to);
      c.arc(0, 0, r0, to, from, true);
      c.closePath();
      c.fillStyle = colour("skin");
      c.fill();
      c.globalAlpha = share;
      c.fillStyle = colour("hand");
      c.fill();
      c.globalAlpha = 1;
      c.strokeStyle = colour("panel");
      c.lineWidth = 2;
      c.stroke();
      const mid = (r0 + r1) / 2, at = (from + to) / 2;
      c.fillStyle = share > .55 ? colour("panel") : colour("ink");
      c.fillText(String(n), mid * Math.cos(at), mid * Math.sin(at));
    });
    const at = rad(f * 360 / faces - 90);
    c.fillStyle = colour("soft");
    c.font = "600 13px system-ui";
    c.fillText(String(f + 1), (R + 10) * Math.cos(at), (R + 10) * Math.sin(at));
    c.font = "12px system-ui";
  }
  const wanted = r.wanted * faces * bands.length;
  open.sort((a, b) => a[0] - b[0]);
  const least = open.slice(0, 3).map(([n, f, b]) => `face ${f} ${b} (${n})`).join(", ");
  text.textContent = `${have} of ${wanted} wanted, ${r.wanted} in each cell.` + (least ? ` Fewest: ${least}.` : " Complete.");
  canvas.setAttribute("aria-label", text.textContent);
}

start().catch((e) => { state.className = "saved wrong"; state.textContent = e.message; });
