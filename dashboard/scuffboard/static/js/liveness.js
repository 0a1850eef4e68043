// How old what we know is, by this page's own monotonic clock; never by the server's word.
// Frames also carry when the core made them, by its monotonic clock: a growing difference to ours is a delay on the
// way, and counts as age.
export const PERIOD_MS = 500;            // the pages promise two pictures a second; frames may come oftener
export const STALE_MS = 2 * PERIOD_MS;
export const LOST_MS = 2000;             // nothing at all from the server, not even "the core is silent"
const DRIFT = 1e-4;                      // two good clocks drift apart less than this, s/s

export class Liveness {
  constructor(now_ms) {
    this.opened = now_ms;
    this.lastFrame = null;
    this.lastAny = null;
    this.frames = 0;
    this.delay_ms = 0;
    this.way = { state: "connecting", retryAt: null, says: "" };
    this.server = null;
    this.base = null;
  }

  frame(data, now_ms) {
    if (data.server !== this.server) { this.server = data.server; this.base = null; }
    const offset = now_ms - data.t_made_s * 1000;
    const crept = this.base === null ? offset : this.base + (now_ms - this.lastAny) * DRIFT;
    this.base = Math.min(offset, crept);
    this.delay_ms = offset - this.base;
    this.lastFrame = now_ms;
    this.lastAny = now_ms;
    this.frames += 1;
  }

  still(now_ms) { this.lastAny = now_ms; }

  // waiting (nothing yet), live, stale (the core is silent), lost (the server is not heard)
  state(now_ms) {
    const any = now_ms - (this.lastAny ?? this.opened);
    if (this.way.state === "lost" || this.way.state === "full" || any > LOST_MS) return "lost";
    if (this.lastFrame === null) return this.lastAny === null ? "waiting" : "stale";
    return this.age_ms(now_ms) > STALE_MS ? "stale" : "live";
  }

  age_ms(now_ms) { return now_ms - (this.lastFrame ?? this.opened) + this.delay_ms; }
}

// How long something that the server looks at for us has stood still: by this page's own clock since it last moved, or by
// what the server has seen, whichever is longer. What has never been seen to move is infinitely old.
export class Moving {
  constructor() { this.moved = null; this.movedMs = -Infinity; this.toldMs = Infinity; this.frameMs = -Infinity; }

  look(moved, still_s, now_ms) {
    if (moved !== this.moved) { this.moved = moved; this.movedMs = now_ms; }
    this.toldMs = still_s === null ? Infinity : still_s * 1000;
    this.frameMs = now_ms;
  }

  age_ms(now_ms) { return Math.max(now_ms - this.movedMs, this.toldMs + now_ms - this.frameMs); }
}
