// The last minute of one channel on its fixed axis, with its limits; hatched where nothing is known.
import { put, svg } from "./dom.js";
import { crossHatch, hatch } from "./climb.js";

const W = 180, H = 40, ROWS = 120;
let made = 0;

export class Spark {
  constructor(host) {
    this.id = `spark${(made += 1)}`;
    this.layer = svg("g", {});
    host.append(svg("svg", { class: "spark", viewBox: `0 0 ${W} ${H}`, preserveAspectRatio: "none", "aria-hidden": "true" },
      svg("defs", {}, hatch(`${this.id}h`), crossHatch(`${this.id}x`)), svg("rect", { class: "well past", width: W, height: H }), this.layer));
  }

  draw(channel, values, kind, version) {
    put(this.layer, `${kind}|${version}|${channel?.warn}|${channel?.trip}`, () => {
      if (kind === "nodata") return [svg("rect", { class: "nochan", x: 1, y: 1, width: W - 2, height: H - 2 })];
      if (kind === "stale") return [svg("rect", { class: "gap", fill: `url(#${this.id}h)`, width: W, height: H })];
      if (kind === "bad") return [svg("rect", { class: "gap", fill: `url(#${this.id}x)`, width: W, height: H })];
      return [...this.limits(channel), this.trace(channel, values)];
    });
  }

  y(channel, value) { return H - Math.max(0, Math.min(1, (value - channel.low) / (channel.high - channel.low))) * H; }

  limits(channel) {
    return ["warn", "trip"].filter((k) => channel[k] !== null && channel[k] !== undefined)
      .map((k) => svg("path", { class: `limit ${k}`, d: `M0 ${this.y(channel, channel[k])}H${W}` }));
  }

  trace(channel, values) {
    let d = "", pen = false;
    const from = ROWS - values.length;
    values.forEach((value, i) => {
      if (value === undefined) { pen = false; return; }
      d += `${pen ? "L" : "M"}${(((from + i) / (ROWS - 1)) * W).toFixed(1)} ${this.y(channel, value).toFixed(1)}`;
      pen = true;
    });
    return svg("path", { class: "trace", d });
  }
}
