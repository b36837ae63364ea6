// What is on the bench: it stays set until somebody changes it, also over a reload.
import { by, fill, make, panel, spaced, stages, words } from "./dom.js";

const KEY = "peelcheck.bench.work";
const EMPTY = {
  job: "", press: "", operator: "", inspector: "", fabric: "", transfer: "", location: "",
  transfer_lot: "", garment_lot: "", size: "", station: "", stage: "final", settings: {},
};
const OF_JOB = ["fabric", "transfer", "location", "transfer_lot", "garment_lot"];

let work = { ...EMPTY, ...read() };
let lists = null;
let changed = () => {};

function read() {
  try { return JSON.parse(localStorage.getItem(KEY)) || {}; } catch { return {}; }
}

export const now = () => work;
export const known = () => lists;

export function start(onChange) {
  changed = onChange;
  by("job").addEventListener("change", () => setJob(by("job").value.trim()));
  by("job").addEventListener("keydown", (event) => {
    if (event.key === "Enter") { event.preventDefault(); setJob(by("job").value.trim()); by("good").focus(); }
  });
  by("work-open").addEventListener("click", open);
  by("work-panel").addEventListener("close", () => { changed(); });
  draw();
}

export function learn(found) {
  lists = found;
  fill(by("job-list"), ...Object.entries(found.jobs).map(([code, job]) => make(
    "option", { value: code }, [job.fabric, job.transfer, spaced(job.location)].filter(Boolean).join(", "))));
  const asked = new URLSearchParams(location.search);
  if (asked.get("press") in found.presses) { set({ press: asked.get("press") }); }
  if (asked.get("job") && asked.get("job") !== work.job) { setJob(asked.get("job")); }
  const only = Object.keys(found.presses);
  if (!work.press && only.length === 1) { set({ press: only[0] }); }
  draw();
}

export function set(changes) {
  const cloth = { ...work, ...changes };
  // settings belong to a press and a kind of work: another one was not set like this
  if (["press", "fabric", "transfer"].some((name) => cloth[name] !== work[name]) && !changes.settings) {
    cloth.settings = {};
  }
  work = cloth;
  localStorage.setItem(KEY, JSON.stringify(work));
  draw();
}

export function setJob(code) {
  if (code === work.job) { return; }
  const job = lists && lists.jobs[code];
  const of = Object.fromEntries(OF_JOB.map((name) => [name, (job && job[name]) || ""]));
  set({ job: code, size: "", ...(code ? of : {}) });
  if (code && lists && !job) { open("fabric"); }
  changed();
}

// What must be said before a piece can be recorded, by name.
export function missing() {
  return [["press", "need_press"], ["fabric", "need_fabric"], ["transfer", "need_transfer"],
    ["inspector", "need_name"]].filter(([name]) => !work[name]).map(([, word]) => words(word));
}

function shown(name) {
  const code = work[name];
  const list = lists && { press: lists.presses, fabric: lists.fabrics, transfer: lists.transfers }[name];
  const called = list && list[code];
  if (called && name === "press" && called !== code) { return code + " · " + called; }
  return called || (name === "location" ? spaced(code) : code) || words("not_set");
}

function draw() {
  if (document.activeElement !== by("job")) { by("job").value = work.job; }
  const parts = [["press", panel.press], ["operator", panel.operator], ["inspector", panel.inspector]];
  const cloth = [shown("fabric"), shown("transfer"), shown("location")].filter((word) => word !== words("not_set"));
  fill(by("work-shown"), ...parts.map(([name, label]) => make(
    "button", { type: "button", class: "work-part" + (work[name] ? "" : " unset"), on: () => open(name) },
    make("small", {}, label), make("strong", {}, shown(name)))),
  make("button", { type: "button", class: "work-part wide" + (cloth.length ? "" : " unset"), on: () => open("fabric") },
    make("small", {}, [work.size, work.transfer_lot].filter(Boolean).join(" · ") || panel.fabric + ", " + panel.transfer.toLowerCase()),
    make("strong", {}, cloth.join(", ") || words("not_set"))));
}

export function open(focus) {
  const dialog = by("work-panel");
  fill(dialog, make("form", { method: "dialog", class: "work-form" },
    make("h2", { id: "work-title" }, panel.title),
    choice("press", lists && lists.presses), person("operator"), person("inspector"),
    choice("fabric", lists && lists.fabrics), choice("transfer", lists && lists.transfers),
    typed("location", lists && Object.keys(lists.places)), typed("transfer_lot"), typed("garment_lot"),
    typed("size"), typed("station"), choice("stage", stages), settings(),
    make("div", { class: "work-done" }, make("button", { class: "button big" }, panel.done))));
  dialog.showModal();
  const first = typeof focus === "string" && dialog.querySelector(`[name="${focus}"]`);
  if (first) { first.focus(); }
}

const field = (name, label, input) => make("div", { class: "work-field" },
  make("label", { for: "work-" + name }, label), input);

function choice(name, options) {
  const select = make("select", { id: "work-" + name, name },
    work[name] && options && work[name] in options ? null : make("option", { value: "" }, ""),
    ...Object.entries(options || {}).map(([code, words_]) => make(
      "option", { value: code, selected: code === work[name] }, words_)));
  select.addEventListener("change", () => set({ [name]: select.value }));
  return field(name, panel[name], select);
}

function typed(name, options) {
  const offered = options || (lists && lists.seen[name]) || [];
  const input = make("input", { id: "work-" + name, name, autocomplete: "off", value: work[name], list: "list-" + name });
  input.addEventListener("change", () => set({ [name]: input.value.trim() }));
  return field(name, panel[name], make("span", { class: "typed" }, input,
    make("datalist", { id: "list-" + name }, ...offered.map((one) => make("option", { value: one })))));
}

const person = (name) => typed(name);

function settings() {
  const rows = ((lists && lists.settings) || []).map(({ name, label, unit }) => {
    const input = make("input", { id: "work-" + name, name, inputmode: "decimal", autocomplete: "off", value: work.settings[name] || "" });
    input.addEventListener("change", () => set({ settings: { ...work.settings, [name]: input.value.trim().replace(",", ".") } }));
    return field(name, unit ? `${label}, ${unit}` : label, input);
  });
  const recipe = lists && lists.recipe;
  return make("fieldset", {}, make("legend", {}, panel.settings),
    make("p", { class: "hint" }, panel.settings_hint),
    make("p", { class: "hint" }, recipe ? words("recipe", { what: recipe.words }) : words("no_recipe")),
    recipe ? make("button", { type: "button", class: "button", on: () => {
      set({ settings: { ...work.settings, ...recipe.values } });
      for (const [name, value] of Object.entries(recipe.values)) { by("work-" + name).value = value; }
    } }, panel.as_recipe) : null,
    make("div", { class: "work-settings" }, ...rows));
}

export function learnRecipe(recipe) {
  if (lists) { lists.recipe = recipe; }
}
