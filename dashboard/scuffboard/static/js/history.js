// The run so far, for the climb: fetched once, then grown by every frame; fetched again when the run or the stage changes,
// after a hole, and when it has grown long.
const STEP_S = 0.5;
const RECENT_ROWS = 120;
const LONG_ROWS = 400;
const HOLE_STEPS = 2.5, AGAIN_MS = 2000;

export const goodValues = (frame) => Object.fromEntries(
  Object.entries(frame.channels || {}).filter(([, c]) => c.value !== null && c.value !== undefined && c.quality !== "bad").map(([name, c]) => [name, c.value]));

export class History {
  constructor() {
    this.run = null;
    this.stages = {};
    this.firstStep = STEP_S;
    this.recent = [];
    this.lastGood = {};
    this.version = 0;
    this.key = null;
    this.loading = false;
    this.holed = false;
    this.loadedMs = -Infinity;
    this.seenMs = -Infinity;
  }

  async load() {
    if (this.loading) return;
    this.loading = true;
    this.holed = false;
    this.loadedMs = performance.now();
    try {
      const got = await (await fetch("/history", { cache: "no-store" })).json();
      this.run = got.run;
      this.stages = got.stages;
      this.firstStep = got.first_step_s || STEP_S;
      this.recent = got.recent;
      this.version += 1;
    } catch { this.key = null; } finally { this.loading = false; }
  }

  accept(frame) {
    const values = goodValues(frame), now = performance.now();
    for (const [name, value] of Object.entries(values)) this.lastGood[name] = { value, t_wall_utc_s: frame.t_wall_utc_s };
    const key = `${frame.server}|${frame.run?.name}|${frame.run?.stage}|${frame.permit?.state}`;
    if (key !== this.key || now - this.seenMs > 3000 || (this.holed && now - this.loadedMs > AGAIN_MS)) { this.key = key; this.load(); }
    this.seenMs = now;
    const last = this.recent.at(-1);
    if (!last || Math.abs(frame.t_rig_s - last[0]) >= STEP_S) {
      this.recent.push([frame.t_rig_s, values]);
      if (this.recent.length > RECENT_ROWS) this.recent.shift();
    }
    if (frame.run && frame.run.name === this.run && frame.permit?.state !== "tripped") this.grow(frame.run, values);
    this.version += 1;
  }

  grow(run, values) {
    const track = (this.stages[String(run.stage || 0)] ??= { step_s: this.firstStep, rows: [] });
    const elapsed = run.stage_elapsed_s || 0, start = elapsed - (elapsed % track.step_s), last = track.rows.at(-1);
    if (last && start <= last[0]) {
      for (const [name, value] of Object.entries(values)) {
        last[1][name] = Math.min(value, last[1][name] ?? value);
        last[2][name] = Math.max(value, last[2][name] ?? value);
      }
    } else {
      // this page may have been too slow where the server was not: what it missed is no gap
      if (last && start - last[0] > HOLE_STEPS * track.step_s) this.holed = true;
      track.rows.push([start, { ...values }, { ...values }]);
    }
    if (track.rows.length > LONG_ROWS) this.key = null;
  }
}
