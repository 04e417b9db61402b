// What all pages share: talking to the server, and what is not saved yet.

let token = "";

// hello asks for the token of this run and what the page was started with.
export async function hello() {
  const h = await get("/api/hello");
  token = h.token;
  return h;
}

// Refused is an answer that asking again will not change.
export class Refused extends Error {}

async function read(response) {
  if (response.ok) return response;
  let said = {};
  try { said = await response.json(); } catch { /* no words */ }
  const words = said.error || `the server answers ${response.status}`;
  if (said.token) throw Object.assign(new Error(words), { token: true });
  throw response.status < 500 ? new Refused(words) : new Error(words);
}

export async function get(path) {
  return (await read(await fetch(path, { signal: AbortSignal.timeout(20000) }))).json();
}

// getBytes fetches an answer that is not JSON.
export async function getBytes(path, signal) {
  return (await read(await fetch(path, { signal }))).arrayBuffer();
}

export async function post(path, body) {
  const send = async () => (await read(await fetch(path, {
    method: "POST", signal: AbortSignal.timeout(20000),
    headers: { "Content-Type": "application/json", "X-Strikerose-Token": token }, body: JSON.stringify(body),
  }))).json();
  try {
    return await send();
  } catch (e) {
    if (!e.token) throw e;
    await hello(); // the server was started anew
    return send();
  }
}

export const newID = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");

const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

// Outbox holds actions until the server has them on disk. They also lie in the
// browser's own store, so that a closed or reloaded page loses none. An action
// is sent again under the same id until an answer comes.
export class Outbox {
  constructor(corpus, { saved, refused, changed }) {
    Object.assign(this, { saved, refused, changed, list: [], trouble: "", wait: 300, busy: false });
    this.prefix = `strikerose-unsaved-${corpus}-`;
    let tab = sessionStorage.getItem("strikerose-tab");
    if (!tab) sessionStorage.setItem("strikerose-tab", tab = newID());
    this.key = this.prefix + tab;
    for (const key of Object.keys(localStorage).filter((k) => k.startsWith(this.prefix))) {
      try {
        for (const a of JSON.parse(localStorage.getItem(key))) if (!this.list.some((b) => b.action === a.action)) this.list.push(a);
      } catch { continue; }
      if (key !== this.key) localStorage.removeItem(key);
    }
    this.keep();
    addEventListener("online", () => { this.wait = 300; this.wake?.(); });
    addEventListener("beforeunload", (e) => { if (this.list.length) e.preventDefault(); });
    this.flush();
  }

  add(action) {
    this.list.push(action);
    this.keep();
    this.flush();
  }

  keep() {
    if (this.list.length) localStorage.setItem(this.key, JSON.stringify(this.list));
    else localStorage.removeItem(this.key);
    this.changed(this);
  }

  async flush() {
    if (this.busy) return;
    this.busy = true;
    while (this.list.length) {
      const a = this.list[0];
      try {
        const view = await post("/api/action", a);
        this.list.shift();
        this.trouble = "";
        this.wait = 300;
        this.saved(a, view);
        this.keep();
      } catch (e) {
        if (e instanceof Refused) {
          this.list.shift();
          this.refused(a, e.message);
          this.keep();
          continue;
        }
        this.trouble = e.name === "TypeError" || e.name === "TimeoutError" ? "no connection" : e.message;
        this.changed(this);
        await Promise.race([sleep(this.wait), new Promise((wake) => { this.wake = wake; })]);
        this.wait = Math.min(5000, this.wait * 2);
      }
    }
    this.busy = false;
  }
}

// showOutbox tells in words what is saved and what is not.
export function showOutbox(el, box) {
  const n = box.list.length;
  el.className = "saved" + (n ? " waiting" : "");
  const text = n === 0 ? "all saved" : `${n} not saved yet` + (box.trouble ? `: ${box.trouble}, trying again` : "");
  if (el.textContent !== text) el.textContent = text;
}

// el makes an element; text goes in as text, never as markup.
export function el(tag, props = {}, ...children) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(props)) {
    if (k === "data") Object.assign(e.dataset, v);
    else if (k in e) e[k] = v;
    else e.setAttribute(k, v);
  }
  e.append(...children);
  return e;
}

export const $ = (id) => document.getElementById(id);

// labeller is the name in use, kept in this browser.
export const labeller = {
  get: () => localStorage.getItem("strikerose-labeller") || "",
  set: (name) => localStorage.setItem("strikerose-labeller", name.trim()),
};

// colour reads a colour of the style sheet, which knows day and night.
export const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

// prepare sizes a canvas for the screen and returns its context and size in
// CSS pixels.
export function prepare(canvas) {
  const ratio = devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
  if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(h * ratio)) {
    canvas.width = Math.round(w * ratio);
    canvas.height = Math.round(h * ratio);
  }
  const c = canvas.getContext("2d");
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, w, h);
  return [c, w, h];
}

export const rad = (deg) => deg * Math.PI / 180;
export const wrap360 = (deg) => ((deg % 360) + 360) % 360;

// whole rounds a bearing for people, 0 to 359, who never read one any other way.
export const whole = (deg) => wrap360(Math.round(deg));
export const faceCentre = (face, faces) => (face - 1) * 360 / faces;
export const faceOf = (deg, faces) => 1 + Math.floor(wrap360(deg + 180 / faces) / (360 / faces)) % faces;
