// Calls out a plan, strike by strike, and notes when each call was made.
import { $, el, get, hello, post } from "./common.js";

let plan = null, calls = [], at = 0, began = 0, timer = 0, sound = null, planName = "";

async function start() {
  const h = await hello();
  $("cautions").replaceChildren(el("ul", {}, ...h.cautions.map((c) => el("li", {}, c))));
  const { bags } = await get("/api/plan");
  $("rig").replaceChildren(...bags.map((b) => el("option", { value: b.key }, b.key)));
  planName = h.plan_name;
  if (bags.length === 0) wrong("The corpus holds no rig yet: strikerose import brings one in.");
  else if (planName) await fromServer();
  else $("plan").textContent = "Open a plan from your disk, as strikerose plan writes it: order, face, band, kind and, if you like, pair.";
  $("rig").addEventListener("change", () => (($("file").files[0] && fromDisk()) || (planName && fromServer())));
  $("file").addEventListener("change", fromDisk);
  $("ready").addEventListener("change", enable);
  $("start").addEventListener("click", begin);
  $("pause").addEventListener("click", pause);
  $("stop").addEventListener("click", stop);
  $("keep").addEventListener("click", keep);
  $("download").addEventListener("click", download);
  $("again").addEventListener("click", () => { show("first"); });
  addEventListener("keydown", (e) => {
    if ($("calling").hidden) return;
    if (e.key === " ") { e.preventDefault(); pause(); }
    if (e.key === "Escape") stop();
  });
  addEventListener("beforeunload", (e) => { if (calls.length && !$("kept").textContent) e.preventDefault(); });
  document.body.dataset.ready = "yes";
}

function wrong(text) {
  $("wrong").hidden = !text;
  $("wrong").textContent = text;
}

async function taken(asked) {
  try {
    plan = await asked;
    const n = plan.entries.length;
    $("plan").textContent = `${plan.name}: ${n} strikes, about ${Math.ceil(minutes(n))} minutes at this pace.`;
    wrong("");
  } catch (e) {
    plan = null;
    $("plan").textContent = "";
    wrong(e.message);
  }
  enable();
}

const fromServer = () => taken(get("/api/plan?" + new URLSearchParams({ rig: $("rig").value })));
async function fromDisk() {
  const f = $("file").files[0];
  if (f) await taken(f.text().then((text) => post("/api/plan", { name: f.name, rig: $("rig").value, text })));
}

const seconds = (id, least) => Math.max(least, Number($(id).value) || least);
const minutes = (n) => (n * seconds("pace", .8) + Math.floor((n - 1) / seconds("round", 1)) * seconds("rest", 0)) / 60;

function enable() { $("start").disabled = !(plan && $("ready").checked); }

function show(id) {
  for (const one of ["first", "calling", "last"]) $(one).hidden = one !== id;
}

const saidBand = (e) => [e.band, e.kind].filter(Boolean).join(" ");

// unit is one call: a single strike, or both of a double hit at once.
function unit(i) {
  const one = plan.entries[i], two = plan.entries[i + 1];
  return one.pair === "one" && two?.pair === "two" ? [one, two] : [one];
}

function begin() {
  calls = plan.entries.map((e) => ({ ...e, call_s: undefined }));
  at = 0;
  sound ||= window.AudioContext ? new AudioContext() : null;
  sound?.resume?.();
  $("kept").textContent = "";
  show("calling");
  $("pause").focus();
  began = performance.now() + 5000;
  wait(5, "Get ready", () => call());
}

// wait counts seconds down, then goes on.
function wait(s, what, then) {
  const until = performance.now() + 1000 * s;
  const tick = () => {
    const left = Math.ceil((until - performance.now()) / 1000);
    if (left <= 0) { then(); return; }
    $("what").textContent = what;
    $("big").textContent = String(left);
    $("then").textContent = "";
    const u = unit(at);
    $("next").textContent = `next: ${u.map((e) => `face ${e.face}, ${saidBand(e)}`).join(", then ")}`;
    timer = setTimeout(tick, 200);
  };
  resumeWith = () => wait(s, what, then);
  tick();
}

let resumeWith = null;

function call() {
  const u = unit(at);
  const now = (performance.now() - began) / 1000;
  for (let k = 0; k < u.length; k++) calls[at + k].call_s = Math.round(1000 * Math.max(0, now)) / 1000;
  beep(u.length);
  $("what").textContent = `strike ${at + 1} of ${plan.entries.length}`;
  $("big").textContent = u.map((e) => e.face).join(" · ");
  $("then").textContent = u.map(saidBand).join(" · ");
  if ($("voice").checked && window.speechSynthesis) {
    speechSynthesis.cancel();
    const words = new SpeechSynthesisUtterance(u.map((e) => `${e.face}, ${saidBand(e)}`).join(", then "));
    words.lang = "en";
    words.rate = 1.15;
    speechSynthesis.speak(words);
  }
  const before = at;
  at += u.length;
  if (at >= plan.entries.length) {
    $("next").textContent = "That was the last one.";
    timer = setTimeout(finish, 1000 * seconds("pace", .8));
    resumeWith = finish;
    return;
  }
  const following = unit(at);
  $("next").textContent = `next: ${following.map((e) => `face ${e.face}, ${saidBand(e)}`).join(", then ")}`;
  const round = seconds("round", 1), rests = Math.floor(at / round) > Math.floor(before / round);
  const rest = seconds("rest", 0);
  const go = () => (rests && rest > 0 ? wait(rest, "Rest: breathe, shake out, drink", call) : call());
  // A pace that wavers a little tells the calls apart later.
  const wave = .15 * Math.sin(at * 2.39996);
  timer = setTimeout(go, 1000 * seconds("pace", .8) * (1 + wave));
  resumeWith = go;
}

function beep(times) {
  if (!sound || !$("tone").checked) return;
  for (let k = 0; k < times; k++) {
    const o = sound.createOscillator(), g = sound.createGain(), t = sound.currentTime + .16 * k;
    o.frequency.value = 880;
    g.gain.setValueAtTime(.0001, t);
    g.gain.exponentialRampToValueAtTime(.4, t + .01);
    g.gain.exponentialRampToValueAtTime(.0001, t + .13);
    o.connect(g).connect(sound.destination);
    o.start(t);
    o.stop(t + .14);
  }
}

function pause() {
  if ($("calling").hidden) return;
  if (timer) {
    clearTimeout(timer);
    timer = 0;
    $("what").textContent = "paused";
    $("pause").firstChild.textContent = "Go on ";
  } else {
    $("pause").firstChild.textContent = "Pause ";
    resumeWith?.();
  }
}

function stop() {
  clearTimeout(timer);
  timer = 0;
  window.speechSynthesis?.cancel();
  $("pause").firstChild.textContent = "Pause ";
  finish();
}

function finish() {
  timer = 0;
  const n = calls.filter((c) => c.call_s !== undefined).length;
  $("made").textContent = `${n} of ${calls.length} strikes were called. Keep the calls with the plan: label plan aligns it better by them.`;
  $("name").value ||= (plan.name.replace(/\.[^.]*$/, "").replace(/[^\p{L}\p{N} _.-]/gu, "-") + "-called");
  show("last");
  $("keep").focus();
}

async function keep() {
  try {
    const { where } = await post("/api/calls", { name: $("name").value.trim(), rig: plan.bag.key, entries: calls });
    $("kept").textContent = `Kept as ${where} in the corpus: strikerose label plan --session NAME ${where}`;
  } catch (e) {
    $("kept").textContent = "";
    $("made").textContent = "Not kept: " + e.message;
  }
}

function download() {
  const rows = calls.map((c) => [c.order, c.face, c.band, c.kind, c.pair || "", c.call_s === undefined ? "" : c.call_s.toFixed(3)]
    .map((v) => (/[",\n]/.test(v) ? `"${String(v).replaceAll('"', '""')}"` : v)).join(","));
  const text = ["order,face,band,kind,pair,call_s", ...rows, ""].join("\n");
  const url = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
  const a = el("a", { href: url, download: ($("name").value.trim() || "calls") + ".csv" });
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  $("kept").textContent = "Saved on your disk.";
}

start().catch((e) => wrong(e.message));
