// One session: a list of strikes, each confirmed, corrected, split, added or
// rejected by keys, mouse or touch.
import { $, el, get, hello, labeller, newID, Outbox, showOutbox, wrap360, whole, faceOf, faceCentre } from "./common.js";
import { Traces, Strip, fetchPicture } from "./traces.js";
import { Skin, drawAbove, middle, words } from "./bag.js";
import { Film } from "./video.js";

const near = 50e6; // nanoseconds within which a claim is about a strike
const name = new URLSearchParams(location.search).get("name") || "";
let view = null, box = null, traces = null, strip = null, skin = null, film = null;
let shown = []; // the marks with what is not saved yet
let now = -1; // position of the current mark in shown
let draft = null; // what is about to be said: { one, two, active, kind: "claim" | "split" | "add" }
let path = [], pulseEnd = 0, pathOf = null;

const me = () => labeller.get();
const mine = (m) => m.own || m.says.find((s) => s.source === "hand" && s.author === me());

async function start() {
  const h = await hello();
  if (h.labeller && !labeller.get()) labeller.set(h.labeller);
  $("labeller").value = me();
  $("title").textContent = name;
  document.title = `${name}: strikerose`;
  view = await get("/api/session?" + new URLSearchParams({ session: name, labeller: me() }));
  fillForm();
  const endNs = view.duration_s * 1e9;
  traces = new Traces($("traces"), name, { endNs, marks: drawn, moved, picked, trouble });
  strip = new Strip($("strip"), name, { endNs, marks: drawn, picked: jump });
  skin = new Skin($("skin"), view.bag, (p) => { change(p); });
  film = new Film(name, {
    cursor: () => traces.cursor ?? current()?.onset_ns ?? 0,
    show: (ns) => { traces.cursor = ns; const v = traces.view; if (ns < v.from || ns > v.to) traces.show(ns - (v.to - v.from) / 2, ns + (v.to - v.from) / 2); else traces.draw(); },
  });
  box = new Outbox(h.corpus, {
    saved: (a, v) => { if (a.session === name && a.labeller === me()) take(v, a.undoes); tell(a.undoes ? "undone, saved" : "saved"); },
    refused: (a, why) => { tell("refused, not saved: " + why, true); refresh(); },
    changed: (b) => { showOutbox($("saved"), b); if (traces) overlay(); },
  });
  overlay();
  const first = shown.findIndex((m) => !mine(m));
  select(Math.max(0, first));
  events();
  setInterval(refresh, 5000);
  const quick = setInterval(() => (view.estimated ? clearInterval(quick) : refresh()), 700);
  addEventListener("focus", refresh);
  if (!me()) { tell("Say who you are before you label."); $("labeller").focus(); }
  document.body.dataset.ready = "yes";
}

// refresh takes in what others did, unless something of ours is under way.
async function refresh() {
  if (box.list.length) return;
  try {
    const v = await get("/api/session?" + new URLSearchParams({ session: name, labeller: me() }));
    if (!box.list.length) take(v);
    if (!box.trouble) showOutbox($("saved"), box);
  } catch {
    $("saved").className = "saved waiting";
    $("saved").textContent = "no connection; nothing unsaved";
  }
}

function take(v, undone) {
  const back = undone && view.actions.find((a) => a.id === undone);
  view = v;
  overlay();
  if (back) {
    const i = nearest(back.onset_ns);
    if (i >= 0) select(i);
  }
}

// overlay lays what is not saved yet over what the server knows.
function overlay() {
  const at = current()?.onset_ns, was = current()?.number;
  shown = view.marks.map((m) => ({ ...m }));
  for (const a of box ? box.list : []) {
    if (a.session !== name || a.labeller !== me() || !a.says) continue;
    for (const s of a.says) {
      let m = shown.filter((k) => Math.abs(k.onset_ns - s.onset_ns) <= near).sort((p, q) => Math.abs(p.onset_ns - s.onset_ns) - Math.abs(q.onset_ns - s.onset_ns))[0];
      if (!m) shown.push(m = { onset_ns: s.onset_ns, says: [] });
      m.own = s;
    }
  }
  shown.sort((p, q) => p.onset_ns - q.onset_ns);
  now = was ? shown.findIndex((m) => m.number === was) : at === undefined ? now : nearest(at);
  if (now >= shown.length) now = shown.length - 1;
  list();
  facts();
  paint();
}

const nearest = (ns) => shown.reduce((best, m, i) => (best < 0 || Math.abs(m.onset_ns - ns) < Math.abs(shown[best].onset_ns - ns) ? i : best), -1);
const current = () => shown[now];

// status of a mark for the list and the pictures.
function status(m) {
  const own = mine(m);
  if (own) return own.not_strike ? ["✕", "no strike"] : ["●", words(view.bag, { face: own.face, band: own.band, height_m: own.band ? null : own.height_m })];
  if (m.doubt) return ["?", m.doubt];
  const other = m.says[0];
  if (!other) return ["○", ""];
  return [other.source === "plan" ? "▦" : "◆", words(view.bag, { face: other.face, band: other.band, not_strike: other.not_strike })];
}

function list() {
  const filter = $("filter").value;
  const items = [];
  shown.forEach((m, i) => {
    const own = mine(m);
    if (i !== now && (filter === "open" && own || filter === "doubt" && !m.doubt || filter === "mine" && !own)) return;
    const [glyph, text] = status(m);
    const b = el("button", { type: "button" }, el("span", { className: "glyph" }, glyph), el("span", { className: "num" }, m.number ? String(m.number) : "+"),
      el("span", {}, text), el("span", { className: "num soft" }, (m.onset_ns / 1e9).toFixed(1)));
    b.setAttribute("aria-label", `strike ${m.number || "added"}, ${(m.onset_ns / 1e9).toFixed(1)} seconds, ${own ? "labelled: " : "not labelled by you: "}${text}`);
    if (i === now) b.setAttribute("aria-current", "true");
    b.addEventListener("click", () => select(i));
    items.push(el("li", {}, b));
  });
  $("list").replaceChildren(...items);
  const on = $("list").querySelector("[aria-current]");
  if (on) { // scroll the list alone, not the page
    const li = on.parentElement, ol = $("list");
    if (li.offsetTop - ol.offsetTop < ol.scrollTop || li.offsetTop - ol.offsetTop + li.offsetHeight > ol.scrollTop + ol.clientHeight) {
      ol.scrollTop = li.offsetTop - ol.offsetTop - ol.clientHeight / 2;
    }
  }
  const done = shown.filter(mine).length, doubt = shown.filter((m) => m.doubt && !mine(m)).length;
  $("tally").textContent = `${done} of ${shown.length} labelled` + (doubt ? `, ${doubt} doubtful` : "");
}

// proposal is what a mark starts with: one's own word, else the plan's or timed
// truth. Another labeller's word and a detector's are shown, never taken.
function proposal(m) {
  const s = mine(m) || m.says.find((k) => k.source !== "hand") || {};
  const d = { onset_ns: m.onset_ns };
  if (s.onset_ns && mine(m)) d.onset_ns = s.onset_ns;
  for (const k of ["face", "bearing_deg", "height_m", "band", "kind", "pair", "note"]) if (s[k] !== undefined && s[k] !== null && !s.not_strike) d[k] = s[k];
  if (s.not_strike && s.note) d.note = s.note;
  return d;
}

function select(i) {
  if (i < 0 || i >= shown.length) return;
  now = i;
  const m = current();
  draft = { kind: "claim", one: proposal(m), active: "one" };
  traces.cursor = null;
  home();
  film.to(m.onset_ns);
  mode();
  list();
  facts();
  paint();
  detail(m);
}

function home() {
  const at = draft?.[draft.active]?.onset_ns ?? current()?.onset_ns ?? 0;
  traces.show(at - 0.25e9, at + 0.55e9);
}

// detail reads the samples around the onset: the path and the pulse's end.
async function detail(m) {
  path = [];
  pulseEnd = 0;
  try {
    const p = await fetchPicture(name, m.onset_ns - 2e6, m.onset_ns + 70e6, 2000);
    if (current() !== m && current()?.onset_ns !== m.onset_ns || !p.points) return;
    path = [];
    let peak = 0, atPeak = 0;
    for (let i = 0; i < p.n; i++) {
      if (Number.isNaN(p.values[0][i])) continue;
      path.push({ x: p.values[1][i], y: p.values[2][i] });
      if (p.times[i] < 40 && p.values[0][i] > peak) { peak = p.values[0][i]; atPeak = i; }
    }
    let end = atPeak;
    while (end < p.n - 1 && p.values[0][end] > peak / 5) end++;
    pulseEnd = p.from_ns + p.times[end] * 1e6;
    pathOf = m.onset_ns;
  } catch { /* the traces say it */ }
  paint();
}

const marksShade = (m) => (mine(m) ? (mine(m).not_strike ? "soft" : "hand") : m.doubt ? "wrong" : m.says.some((s) => s.source === "plan") ? "plan" : "ink");

// drawn lists what the traces mark.
function drawn() {
  const out = shown.map((m, i) => ({
    onset_ns: i === now && draft?.kind === "claim" ? draft.one.onset_ns : m.onset_ns, text: `${status(m)[0]}${m.number || "+"}`,
    now: i === now, shade: marksShade(m), pulse: i === now, until_ns: i === now && pathOf === m.onset_ns ? pulseEnd : 0,
  }));
  if (draft?.two) out.push({ onset_ns: draft.two.onset_ns, text: "second", now: true, dashed: true, shade: "hand" });
  if (draft?.kind === "add") out.push({ onset_ns: draft.one.onset_ns, text: "new", now: true, dashed: true, shade: "hand" });
  return out;
}

// sayings are the claims that the pictures of the bag show.
function sayings() {
  const m = current(), out = [];
  if (m && draft.kind !== "add") {
    for (const s of m.says) if (s.source === "plan") out.push({ ...s, shade: "plan" });
    for (const s of m.says) if (s.source === "timed" || s.source === "hand" && s.author !== me()) out.push({ ...s, shade: "timed" });
    if (m.estimate) out.push({ ...m.estimate, half_deg: m.estimate.bearing_half90_deg, half_m: m.estimate.height_half90_m, shade: "detector" });
  }
  for (const key of ["one", "two"]) if (draft[key]) out.push({ ...draft[key], shade: "hand", you: draft.active === key, text: draft.two ? (key === "one" ? "1st" : "2nd") : "" });
  return out;
}

function facts() {
  const m = current();
  $("which").textContent = draft?.kind === "add" ? "a missed strike" : m ? (m.number ? `strike ${m.number} of ${view.marks.filter((k) => k.number).length}` : "added strike") : "no strikes found";
  const rows = [];
  const row = (a, b) => rows.push(el("dt", {}, a), el("dd", {}, b));
  if (m && draft?.kind !== "add") {
    row("at", `${(m.onset_ns / 1e9).toFixed(3)} s` + (m.peak_mps2 ? `, peak ${Math.round(m.peak_mps2)} m/s²` : "") + (m.clipped ? ", clipped" : "") + (m.near_gap ? ", near a gap" : ""));
    for (const s of m.says) {
      if (s.source === "hand" && s.author === me()) continue;
      const who = s.source === "plan" ? `plan ${s.order || ""}` : s.source === "timed" ? "timed" : s.author;
      row(who, words(view.bag, s) + (s.confidence && s.confidence < .995 ? `, ${Math.round(100 * s.confidence)} % sure` : "") + (s.note ? `. “${s.note}”` : ""));
    }
    const e = m.estimate;
    if (e) row("detector", `face ${e.face}, ${whole(e.bearing_deg)}° ± ${Math.round(e.bearing_half90_deg)}, ${Math.round(100 * e.height_m)} ± ${Math.round(100 * e.height_half90_m)} cm`);
    else if (view.estimated === false) row("detector", "at work…");
    if (view.problem) row("detector", view.problem);
    const own = mine(m);
    row("you", (own ? words(view.bag, own) : "nothing yet") + (m.own ? " (not saved yet)" : ""));
    if (m.doubt) row("look", m.doubt);
  }
  $("facts").replaceChildren(el("dl", {}, ...rows));
}

function fillForm() {
  const { faces, bands } = view.bag;
  $("face").replaceChildren(el("option", { value: "" }, "–"), ...Array.from({ length: faces }, (_, i) => el("option", { value: String(i + 1) }, String(i + 1))));
  $("band").replaceChildren(el("option", { value: "" }, "–"), ...bands.map((b) => el("option", { value: b.name }, b.name)));
  $("kind").replaceChildren(el("option", { value: "" }, "–"), ...view.kinds.map((k) => el("option", { value: k }, k)));
  $("height").max = String(Math.round(view.bag.length_m * 100));
}

// paint brings pictures and fields in line with the draft.
function paint() {
  if (!draft || !traces) return;
  const d = draft[draft.active];
  const set = (id, v) => { if (document.activeElement !== $(id) && $(id).value !== v) $(id).value = v; };
  set("face", d.face ? String(d.face) : "");
  set("band", d.band || "");
  set("kind", d.kind || "");
  set("bearing", d.bearing_deg != null ? String(whole(d.bearing_deg)) : "");
  set("height", d.height_m != null ? String(Math.round(d.height_m * 100)) : "");
  set("onset", String(Math.round(d.onset_ns / 1e6)));
  set("note", d.note || "");
  const says = sayings();
  drawAbove($("above"), view.bag, draft.kind === "add" ? [] : path, says);
  skin.draw(says, view.bag.sensor_m);
  const told = `you say ${words(view.bag, d)}` + says.filter((s) => s.shade !== "hand").map((s) => `; ${s.shade} says ${words(view.bag, s)}`).join("");
  $("above").setAttribute("aria-label", "the bag from above: " + told);
  $("skin").setAttribute("aria-label", "the skin of the bag laid flat: " + told + ". Fields below set the same.");
  traces.draw();
  strip.draw();
}

// change puts something into the draft. Face and bearing, band and height keep
// in step.
function change(p) {
  const d = draft[draft.active], { bag } = view;
  Object.assign(d, p);
  if (p.bearing_deg != null) d.face = faceOf(d.bearing_deg, bag.faces);
  else if (p.face !== undefined || p.bearing_deg === null) delete d.bearing_deg;
  if (p.height_m != null) d.band = (bag.bands.find((b) => d.height_m < b.to_m) || bag.bands[bag.bands.length - 1]).name;
  else if (p.band !== undefined || p.height_m === null) delete d.height_m;
  for (const k of ["face", "band", "kind", "note"]) if (!d[k]) delete d[k];
  paint();
  tell(words(bag, d));
}

function turn(by) {
  const d = draft[draft.active], { faces } = view.bag;
  const at = d.bearing_deg ?? (d.face ? faceCentre(d.face, faces) : 0);
  change({ bearing_deg: whole(at + by) });
}

function lift(by) {
  const d = draft[draft.active], at = middle(view.bag, d).m ?? view.bag.length_m / 2;
  change({ height_m: Math.max(0, Math.min(view.bag.length_m, Math.round(100 * (at + by)) / 100)) });
}

const cycle = (all, value, by) => all[((all.indexOf(value) + (value === undefined && by < 0 ? 0 : by)) % all.length + all.length) % all.length];

// shift moves the onset; one that was found only within what still means it.
function shift(ns) {
  const d = draft[draft.active];
  let to = Math.round(Math.max(0, Math.min(view.duration_s * 1e9, d.onset_ns + ns)));
  if (draft.kind === "claim") {
    const m = current();
    if (Math.abs(to - m.onset_ns) > near - 2e6) { tell("Further away it would be another strike: reject this one (X) and add one there (A)."); return; }
  } else if (draft.kind === "split" && draft.active === "two") to = Math.max(to, draft.one.onset_ns + 20e6);
  d.onset_ns = to;
  if (to < traces.view.from || to > traces.view.to) home();
  paint();
}

function mode() {
  const split = draft.kind === "split", add = draft.kind === "add";
  $("mode").hidden = !split && !add;
  if (split) $("mode").textContent = `Split: the keys mean the ${draft.active === "one" ? "first" : "second"} strike. S changes over, comma and full stop move its onset, Enter saves both.`;
  if (add) $("mode").textContent = "A missed strike: tap the traces or use comma and full stop to set its onset, say where it landed, Enter saves.";
  $("cancel").hidden = !split && !add;
  $("confirm").firstChild.textContent = split ? "Save both " : add ? "Save the new strike " : "Confirm ";
}

// split starts with the next jolt after the first pulse.
async function split() {
  if (draft.kind === "split") {
    draft.active = draft.active === "one" ? "two" : "one";
    mode();
    facts();
    paint();
    return;
  }
  const m = current();
  if (!m || draft.kind !== "claim") return;
  const one = draft.one;
  draft = { kind: "split", one: { ...one, pair: "one" }, two: { onset_ns: Math.round(one.onset_ns + 180e6), pair: "two", kind: one.kind }, active: "two" };
  mode();
  paint();
  tell("Split: say where the second strike landed.");
  try {
    const until = Math.min(one.onset_ns + 600e6, (shown[now + 1]?.onset_ns ?? Infinity) - near);
    if (until < one.onset_ns + 80e6) return;
    const p = await fetchPicture(name, one.onset_ns + 60e6, until, 4000);
    if (!p.points || !draft.two || draft.two.moved) return;
    const jolt = (i) => Math.hypot(p.values[1][i] - p.values[1][i - 2], p.values[2][i] - p.values[2][i - 2]);
    let most = 0, at = -1;
    for (let i = 2; i < p.n; i++) { const j = jolt(i); if (j > most) { most = j; at = i; } }
    while (at > 3 && jolt(at - 1) > most / 4) at--;
    if (at > 0) draft.two.onset_ns = Math.round(p.from_ns + p.times[at - 1] * 1e6);
  } catch { /* the guess stays */ }
  paint();
}

function add() {
  const at = Math.round(Math.max(0, traces.cursor ?? (traces.view.from + traces.view.to) / 2));
  draft = { kind: "add", one: { onset_ns: at }, active: "one" };
  mode();
  facts();
  paint();
  tell("A missed strike: set its onset, then say where it landed.");
}

function cancel() { if (current()) select(now); }

const clean = (d) => {
  const s = { onset_ns: Math.round(d.onset_ns) };
  for (const k of ["face", "bearing_deg", "height_m", "band", "kind", "pair", "note"]) if (d[k] !== undefined && d[k] !== null && d[k] !== "") s[k] = d[k];
  return s;
};

function named() {
  if (me()) return true;
  tell("Say who you are first.", true);
  $("labeller").focus();
  return false;
}

function confirm() {
  if (!draft || !named()) return;
  for (const key of ["one", "two"]) {
    const d = draft[key];
    if (d && !d.face && !d.band) {
      if (draft.kind === "split") draft.active = key;
      mode();
      paint();
      tell(`Say where ${draft.two ? "the " + (key === "one" ? "first" : "second") + " strike" : "it"} landed first: a face (1 to ${view.bag.faces}) or a place on the skin. X if it was no strike.`, true);
      return;
    }
  }
  const says = [clean(draft.one)];
  if (draft.two) says.push(clean(draft.two));
  const added = draft.kind === "add" && says[0].onset_ns;
  send({ says });
  if (added) select(nearest(added));
  else forward(says[says.length - 1].onset_ns);
}

function reject() {
  if (!current() || draft.kind === "add" || !named()) return;
  const s = { onset_ns: Math.round(mine(current())?.onset_ns ?? current().onset_ns), not_strike: true };
  if (draft.one.note) s.note = draft.one.note;
  send({ says: [s] });
  forward(current().onset_ns);
}

// undo takes back the last action that is not undone, saved or not.
function undo() {
  if (!named()) return;
  const gone = new Set(box.list.filter((a) => a.undoes).map((a) => a.undoes));
  const all = [...view.actions.map((a) => [a.id, a.onset_ns]), ...box.list.filter((a) => a.says && a.session === name && a.labeller === me()).map((a) => [a.action, a.says[0].onset_ns])];
  const last = all.filter(([id], i) => !gone.has(id) && all.findIndex(([k]) => k === id) === i).pop();
  if (!last) { tell("Nothing of yours is left to undo."); return; }
  send({ undoes: last[0] });
  const i = nearest(last[1]);
  if (i >= 0) select(i);
  tell("Undone; saving…");
}

function send(what) {
  tell("saving…");
  box.add({ session: name, labeller: me(), action: newID(), ...what });
}

// forward goes to the next strike after a time, or to the next open one where
// that filter is on.
function forward(ns) {
  if ($("filter").value === "all") {
    const i = shown.findIndex((m, k) => k > now && m.onset_ns > ns + near);
    select(i < 0 ? now : i);
    return;
  }
  nextOpen();
}

function nextOpen() {
  const want = $("filter").value === "doubt" ? (m) => m.doubt && !mine(m) : (m) => !mine(m);
  for (let k = 1; k <= shown.length; k++) {
    const i = (now + k) % shown.length;
    if (want(shown[i])) { select(i); return; }
  }
  tell("Every strike here has your word.");
}

function tell(text, wrong) {
  $("said").textContent = text;
  $("said").className = wrong ? "small message wrong" : "small";
}

function trouble(text) {
  $("trouble").hidden = !text;
  if ($("trouble").textContent !== text) $("trouble").textContent = text;
}

function moved(v) {
  strip.view = v;
  strip.draw();
  $("reading").textContent = `${(v.from / 1e9).toFixed(2)} to ${(v.to / 1e9).toFixed(2)} s`;
  $("traces").setAttribute("aria-label", `traces from ${(v.from / 1e9).toFixed(2)} to ${(v.to / 1e9).toFixed(2)} seconds; ${shown.filter((m) => m.onset_ns >= v.from && m.onset_ns <= v.to).map((m) => `strike ${m.number || "added"} at ${(m.onset_ns / 1e9).toFixed(3)}`).join(", ") || "no strike"}`);
}

// picked is a tap on the traces: it sets the new strike's or the second's
// onset, else the strike there, else the cursor.
function picked(ns) {
  ns = Math.round(ns);
  if (draft.kind === "add") { draft.one.onset_ns = Math.max(0, ns); paint(); return; }
  if (draft.kind === "split") { draft.two.onset_ns = Math.max(draft.one.onset_ns + 20e6, ns); draft.two.moved = true; paint(); return; }
  const i = nearest(ns);
  if (i >= 0 && i !== now && Math.abs(traces.x(shown[i].onset_ns) - traces.x(ns)) < 12) { select(i); return; }
  traces.cursor = ns;
  film.to(ns);
  traces.draw();
}

function jump(ns) {
  const half = (traces.view.to - traces.view.from) / 2;
  traces.show(ns - half, ns + half);
}

function events() {
  $("list").tabIndex = -1;
  const click = { confirm, reject, split, add, undo, cancel, home, prev: () => select(now - 1), next: () => select(now + 1),
    earlier: () => traces.pan(-.5), later: () => traces.pan(.5), nearer: () => traces.zoom(.5), farther: () => traces.zoom(2), help: () => $("keys").showModal() };
  for (const [id, f] of Object.entries(click)) $(id).addEventListener("click", f);
  $("filter").addEventListener("change", () => list());
  $("labeller").addEventListener("change", () => { labeller.set($("labeller").value); refresh(); });
  $("place").addEventListener("submit", (e) => { e.preventDefault(); confirm(); });
  const field = { face: (v) => ({ face: Number(v) || null, bearing_deg: null }), band: (v) => ({ band: v, height_m: null }), kind: (v) => ({ kind: v }),
    bearing: (v) => (v === "" ? { bearing_deg: null } : { bearing_deg: wrap360(Number(v)) }),
    height: (v) => (v === "" ? { height_m: null } : { height_m: Math.max(0, Math.min(view.bag.length_m, Number(v) / 100)) }) };
  for (const [id, f] of Object.entries(field)) $(id).addEventListener("change", () => change(f($(id).value)));
  $("note").addEventListener("input", () => { draft[draft.active].note = $("note").value; });
  $("onset").addEventListener("change", () => { if ($("onset").value !== "") shift(Number($("onset").value) * 1e6 - draft[draft.active].onset_ns); });
  addEventListener("keydown", key);
  // After a click by mouse or touch Enter confirms, rather than clicking again.
  document.querySelector("main").addEventListener("click", (e) => {
    if (e.detail > 0 && e.target.closest("button")) $("now").focus({ preventScroll: true });
  });
  addEventListener("resize", paint);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", paint);
}

function key(e) {
  if (e.ctrlKey || e.metaKey || e.altKey || $("keys").open) return;
  const t = e.target, typing = t.matches("input:not([type=checkbox]):not([type=range]), select, textarea");
  if (e.key === "Escape") {
    if (!typing) cancel();
    $("now").focus({ preventScroll: true });
    return;
  }
  if (typing) {
    if (e.key === "Enter" && t.id === "labeller") $("now").focus({ preventScroll: true });
    if (e.key === "Enter" && t.closest("#place")) { e.preventDefault(); t.dispatchEvent(new Event("change")); t.blur(); if (t.id !== "note") confirm(); }
    return;
  }
  if (e.key === "Enter" || e.key === " ") {
    if (t.matches("button, a, summary, input") || e.key === " ") return;
    e.preventDefault();
    confirm();
    return;
  }
  if (!$("keyson").checked && e.key.length === 1 && e.key !== "?") return;
  const s = e.shiftKey, sample = 1e9 / view.rate_hz, { bands, faces } = view.bag, d = draft?.[draft.active];
  const acts = {
    ArrowLeft: () => turn(s ? -10 : -2), ArrowRight: () => turn(s ? 10 : 2), ArrowUp: () => lift(s ? .05 : .01), ArrowDown: () => lift(s ? -.05 : -.01),
    b: () => change({ band: cycle(bands.map((b) => b.name), d.band, s ? -1 : 1), height_m: null }), k: () => change({ kind: cycle(view.kinds, d.kind, s ? -1 : 1) }),
    x: reject, s: split, a: add, u: undo, n: () => $("note").focus(),
    ",": () => shift(-sample), ".": () => shift(sample), "<": () => shift(-10e6), ">": () => shift(10e6),
    d: click("prev"), f: click("next"), PageUp: click("prev"), PageDown: click("next"), g: nextOpen,
    q: () => traces.pan(-.25), w: () => traces.pan(.25), z: () => traces.zoom(s ? 2 : .5), 0: home, "?": () => $("keys").showModal(),
    m: () => (s ? film.clapFilm() : film.clapTrace()), ";": () => film.step(-1), "'": () => film.step(1), p: () => film.play(),
  };
  if (/^[1-9]$/.test(e.key)) {
    if (Number(e.key) <= faces) change({ face: Number(e.key), bearing_deg: null });
    else tell(`This bag has faces 1 to ${faces}.`);
    e.preventDefault();
    return;
  }
  const act = acts[e.key.length === 1 ? e.key.toLowerCase() : e.key];
  if (!act || !draft && !"?dfg".includes(e.key)) return;
  e.preventDefault();
  act();
}

const click = (id) => () => $(id).click();

start().catch((e) => {
  $("saved").className = "saved wrong";
  $("saved").textContent = e.message;
  trouble(e.message);
});
