// What every live page shares: the newest frame, its standing, the redraw, commands, theme, stop request.
import { say, setText } from "./dom.js";
import { hydrateMarks } from "./marks.js";
import { listen } from "./feed.js";
import { Liveness } from "./liveness.js";
import { clock, offsetName } from "./format.js";

const TICK_MS = 100;

export class Page {
  constructor(name, below = "") {
    this.name = name;
    this.below = below;
    this.frame = null;
    this.live = new Liveness(performance.now());
    this.listeners = { draw: [], frame: [] };
    this.spoken = "";
  }

  onDraw(act) { this.listeners.draw.push(act); return this; }
  onFrame(act) { this.listeners.frame.push(act); return this; }

  start() {
    hydrateMarks();
    themeButtons();
    this.stopButtons();
    listen((message) => this.receive(message), this.below);
    setInterval(() => this.tick(), TICK_MS);
    document.fonts.ready.then(() => this.tick());
  }

  receive(message) {
    const now = performance.now();
    if (message.kind === "frame") {
      this.frame = JSON.parse(message.text);
      this.live.frame(this.frame, now);
      this.live.way = { state: "open", retryAt: null };
      for (const act of this.listeners.frame) act(this.frame);
    } else if (message.kind === "still") {
      this.live.still(now);
      this.live.way = { state: "open", retryAt: null };
    } else if (message.kind === "way") {
      this.live.way = { state: message.state, retryAt: message.retry_ms ? now + message.retry_ms : null, cap: message.cap };
    }
    this.tick();
  }

  tick() {
    const now = performance.now(), state = this.live.state(now), retry = this.live.way.retryAt;
    const standing = {
      state,
      blind: state !== "live",
      age_s: this.live.age_ms(now) / 1000 + (this.frame?.link?.age_s || 0),
      frames: this.live.frames,
      full: this.live.way.state === "full" ? this.live.way.cap : "",
      retry_s: retry === null ? null : Math.max(0, Math.ceil((retry - now) / 1000)),
      lastAt: this.frame ? clock(this.frame.t_wall_utc_s, this.frame.utc_offset_s) : "never",
      now: this.frame ? clock(this.frame.t_wall_utc_s + this.live.age_ms(now) / 1000, this.frame.utc_offset_s) : "",
      zone: this.frame ? offsetName(this.frame.utc_offset_s) : "",
      silent_rig: !!this.frame?.link && this.frame.link.up === false && this.frame.permit?.state !== "watch_only",
    };
    for (const act of this.listeners.draw) act(this.frame, standing);
    this.stopReach(state);
    this.speak(standing);
    document.documentElement.dataset.standing = state;
  }

  speak(standing) {
    const [text, urgent] = this.words(standing);
    if (text === this.spoken) return;
    this.spoken = text;
    say(text, urgent);
  }

  // What is read out when it changes, and whether it interrupts; a page of many rigs has words of its own.
  words(standing) {
    const permit = this.frame?.permit?.state;
    const text = standing.state === "lost" ? "No connection. Display not valid. Look at the rig."
      : standing.state === "stale" ? "No new data. Display not valid. Look at the rig."
      : permit === "tripped" && this.frame.permit.first_out?.kind !== "start_up" ? `Tripped. ${this.frame.permit.first_out?.says || ""}`
      : permit === "permitted" ? "Permitted." : "";
    return [text, text !== "Permitted."];
  }

  async command(name, fields = {}) {
    try {
      const answer = await fetch(`/command/${name}`, {
        method: "POST", cache: "no-store",
        headers: { "Content-Type": "application/json", "X-Scuffboard": "1" },
        body: JSON.stringify({ ...fields, page: this.name }),
      });
      const { ok, says } = await answer.json();
      say(says, !ok);
      return { ok, says };
    } catch {
      const says = "Not sent: this screen cannot reach the rig's computer. Look at the rig.";
      say(says, true);
      return { ok: false, says };
    }
  }

  stopButtons() {
    for (const button of document.querySelectorAll(".stopbtn")) button.addEventListener("click", async () => {
      const word = button.querySelector("[data-word]"), note = button.querySelector("small");
      setText(word, "Sending stop");
      const { ok } = await this.command("stop_request");
      setText(word, ok ? "Stop requested" : "Stop not sent");
      setText(note, "(software) look at the rig");
      setTimeout(() => { setText(word, "Stop request"); setText(note, "(software)"); }, 8000);
    });
  }

  // a request that cannot arrive must not look as if it could; a stale page may still reach the server
  stopReach(state) {
    for (const button of document.querySelectorAll(".stopbtn")) {
      const dead = state === "lost";
      if (button.disabled === dead) continue;
      button.disabled = dead;
      setText(button.querySelector("small"), dead ? "cannot be sent" : "(software)");
    }
  }
}

function themeButtons() {
  const root = document.documentElement;
  for (const button of document.querySelectorAll("[data-theme-switch]")) {
    const show = () => setText(button, root.dataset.theme === "night" ? "Day" : "Night");
    show();
    button.addEventListener("click", () => {
      root.dataset.theme = root.dataset.theme === "night" ? "day" : "night";
      try { localStorage.setItem("scuffboard-theme", root.dataset.theme); } catch { /* kept for this page only */ }
      show();
    });
  }
}

