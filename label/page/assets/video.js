// A video or sound from the person's disk beside the traces. It is opened as an
// object of this browser and never sent anywhere.
import { $ } from "./common.js";

export class Film {
  constructor(session, { cursor, show }) {
    Object.assign(this, { session, cursor, show, screen: $("screen"), clap: {}, url: "" });
    $("film").addEventListener("change", () => this.open($("film").files[0]));
    $("back").addEventListener("click", () => this.step(-1));
    $("on").addEventListener("click", () => this.step(1));
    $("play").addEventListener("click", () => this.play());
    $("clapfilm").addEventListener("click", () => this.clapFilm());
    $("claptrace").addEventListener("click", () => this.clapTrace());
    $("seek").addEventListener("input", () => { this.screen.currentTime = Number($("seek").value); });
    for (const event of ["timeupdate", "seeked"]) this.screen.addEventListener(event, () => this.moved());
    this.screen.addEventListener("loadedmetadata", () => { $("seek").max = String(this.screen.duration || 1); this.tell(); });
    this.screen.addEventListener("error", () => { if (this.url) $("lined").textContent = "This browser cannot play that file."; });
    this.screen.requestVideoFrameCallback?.(this.frame = (_, f) => { // the true time between frames
      if (!this.screen.paused && this.last !== undefined && f.mediaTime > this.last && f.presentedFrames === this.count + 1) {
        $("rate").value = String(Math.round(10 / (f.mediaTime - this.last)) / 10);
      }
      this.last = f.mediaTime;
      this.count = f.presentedFrames;
      this.screen.requestVideoFrameCallback(this.frame);
    });
  }

  open(file) {
    if (!file) return;
    if (this.url) URL.revokeObjectURL(this.url);
    this.url = URL.createObjectURL(file);
    this.screen.src = this.url;
    this.screen.hidden = $("filmtools").hidden = false;
    this.key = `strikerose-clap-${this.session}-${file.name}-${file.size}`;
    try { this.clap = JSON.parse(localStorage.getItem(this.key)) || {}; } catch { this.clap = {}; }
    this.tell();
  }

  get lined() { return this.clap.film !== undefined && this.clap.trace !== undefined; }

  clapFilm() { if (this.url) this.mark({ film: this.screen.currentTime }); }
  clapTrace() { if (this.url) this.mark({ trace: this.cursor() / 1e9 }); }

  mark(part) {
    Object.assign(this.clap, part);
    localStorage.setItem(this.key, JSON.stringify(this.clap));
    this.tell();
  }

  tell() {
    const { film, trace } = this.clap, at = (s) => (s === undefined ? "not marked" : s.toFixed(3) + " s");
    $("lined").textContent = `Clap in the video: ${at(film)}; in the traces: ${at(trace)}. ` +
      (this.lined ? `Lined up: the video runs ${(film - trace).toFixed(3)} s ahead of the log.` : "Mark both to line them up.");
  }

  // to shows what the video has at a time of the log.
  to(ns) {
    if (!this.url || !this.lined || !$("follow").checked || !this.screen.paused) return;
    this.quiet = true;
    this.screen.currentTime = Math.max(0, ns / 1e9 - this.clap.trace + this.clap.film);
  }

  step(by) {
    if (!this.url) return;
    this.screen.pause();
    this.screen.currentTime = Math.max(0, this.screen.currentTime + by / (Number($("rate").value) || 30));
  }

  play() {
    if (!this.url) return;
    if (this.screen.paused) this.screen.play(); else this.screen.pause();
  }

  moved() {
    $("seek").value = String(this.screen.currentTime);
    if (this.quiet) { this.quiet = this.screen.seeking; return; }
    if (this.lined && $("follow").checked) this.show((this.screen.currentTime - this.clap.film + this.clap.trace) * 1e9);
  }
}
