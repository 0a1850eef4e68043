// The head of every desk page: the permit word, whether the page hears the rig, the simulated tag.
import { byId, h, put, setClass, setText } from "./dom.js";
import * as facts from "./facts.js";
import { age } from "./format.js";
import { mark } from "./marks.js";
import { Page } from "./page.js";
import { nearSizes } from "./sizes.js";

function words(standing) {
  if (standing.state === "lost") {
    const why = standing.full ? `This server already feeds ${standing.full} screens, as many as it is set for.` : "This screen cannot reach the rig's computer.";
    return `NO CONNECTION, what is live on this page is not valid. ${why} Look at the rig.${standing.retry_s === null ? "" : ` Trying again in ${standing.retry_s} s.`}`;
  }
  if (standing.state === "stale") return `STALE ${age(standing.age_s)}: the core is silent. If it has stopped, the permit has lapsed. Look at the rig.`;
  return "";
}

export function deskPage(name) {
  const page = new Page(name);
  page.onDraw((frame, standing) => {
    const permit = facts.permitFact(frame, standing), pill = byId("now-permit");
    setClass(pill, `pill ${permit.cls === "demoted" || permit.cls === "quiet" ? "" : permit.cls}`.trim());
    put(pill, `${permit.mark}|${permit.far}`, () => [h("span", { class: permit.markCls || "plainmark" }, mark(permit.mark)), h("span", { class: "strong" }, permit.far)]);
    setText(byId("now-since"), `${frame?.rig ? `${frame.rig}, ` : ""}${permit.since || permit.beside.join(" ")}`);
    byId("simtag").hidden = !frame?.simulated;
    const text = words(standing), band = byId("novalid");
    band.hidden = !text;
    setText(band, text);
  });
  nearSizes();
  return page;
}
