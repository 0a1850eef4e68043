// What hands do at the bench page: mark, observe, note, open and end a run. Each press is one command and one answer.
import { byId } from "./dom.js";

const NUMBERS = ["treat_rate_percent", "bath_volume_ml", "dwell_s"];
const FIRST_PLAN = { lubricant: "", bath_volume_ml: 15, ring: "", pin: "", loads_n: [80, 160, 240, 320, 400, 480, 560, 640, 720, 800, 880, 960], dwell_s: 300 };

async function press(page, tell, button, name, fields) {
  button.disabled = true;
  const { ok, says } = await page.command(name, fields);
  button.disabled = false;
  tell(says);
  return ok;
}

export function drawers(page, tell) {
  byId("mark").addEventListener("click", (e) => press(page, tell, e.currentTarget, "mark"));
  for (const button of document.querySelectorAll("[data-observe]")) {
    button.addEventListener("click", () => press(page, tell, button, "observe", { what: button.dataset.observe }));
  }
  drawer("write", "note-form", (form) => press(page, tell, form.querySelector("[type=submit]"), "note", { text: form.elements.text.value }));
  drawer("end", "end-form", (form) => press(page, tell, form.querySelector("[type=submit]"), "close_run", { outcome_says: form.elements.outcome_says.value }));
}

export function drawer(buttonId, formId, send) {
  const button = byId(buttonId), form = byId(formId);
  const show = (on) => {
    for (const other of document.querySelectorAll(".drawer")) if (other !== form) other.hidden = true;
    form.hidden = !on;
    button.setAttribute("aria-expanded", String(on));
    if (on) form.querySelector("textarea, button")?.focus();
  };
  button.addEventListener("click", () => show(form.hidden));
  form.querySelector("[data-cancel]").addEventListener("click", () => show(false));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (await send(form)) { form.reset(); show(false); }
  });
  return show;
}

export function setUp(page, tell) {
  const form = byId("test-form"), show = byId("show-test");
  byId("open-setup").addEventListener("click", (e) => press(page, tell, e.currentTarget, "open_run", { kind: "setup" }));
  show.addEventListener("click", async () => {
    form.hidden = !form.hidden;
    show.setAttribute("aria-expanded", String(!form.hidden));
    if (!form.hidden) fillIn(form, await lastTest());
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const plan = planOf(form);
    if (!plan) { tell("Loads: write them as numbers with spaces between, for instance 80 160 240."); return; }
    if (await press(page, tell, form.querySelector("[type=submit]"), "open_run", plan)) { form.hidden = true; show.setAttribute("aria-expanded", "false"); }
  });
}

async function lastTest() {
  try {
    const last = await (await fetch("/last-test", { cache: "no-store" })).json();
    return last.lubricant === undefined ? FIRST_PLAN : last;
  } catch { return FIRST_PLAN; }
}

function fillIn(form, plan) {
  for (const [name, value] of Object.entries(plan)) {
    const field = form.elements[name];
    if (field) field.value = Array.isArray(value) ? value.join(" ") : value ?? "";
  }
}

function planOf(form) {
  const plan = { kind: "test" };
  for (const name of ["lubricant", "ring", "pin"]) plan[name] = form.elements[name].value.trim();
  for (const name of NUMBERS) if (form.elements[name].value !== "") plan[name] = form.elements[name].valueAsNumber;
  plan.loads_n = form.elements.loads_n.value.trim().split(/[\s;]+/).map((text) => Number(text.replace(",", ".")));
  return plan.loads_n.every((n) => Number.isFinite(n) && n > 0) ? plan : null;
}
