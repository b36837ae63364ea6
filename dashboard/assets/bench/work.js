// What is on the bench: it stays set until somebody changes it, also over a reload.
import { checked } from "./numbers.js";
import { by, fill, make, panel, spaced, stages, words } from "./dom.js";

const KEY = "peelcheck.bench.work";
const EMPTY = {
  job: "", press: "", operator: "", inspector: "", fabric: "", transfer: "", location: "",
  transfer_lot: "", garment_lot: "", size: "", station: "", stage: "final", settings: {},
};
const OF_JOB = ["fabric", "transfer", "location", "transfer_lot", "garment_lot"];

const NAME_KEY = "peelcheck.name";  // said on another page

let work = { ...EMPTY, ...read() };
work.inspector ||= localStorage.getItem(NAME_KEY) || "";
let lists = null;
let changed = () => {};
let cloth = () => {};     // the kind of work was changed in the open panel

function read() {
  try { return JSON.parse(localStorage.getItem(KEY)) || {}; } catch { return {}; }
}

export const now = () => work;
export const known = () => lists;

export function start(onChange, onCloth) {
  changed = onChange;
  cloth = onCloth;
  // what is scanned or typed takes the place of the job that stands there
  let entered = false;  // a tap puts the cursor after the focus is there: the click comes last
  by("job").addEventListener("focus", () => { entered = true; by("job").select(); });
  by("job").addEventListener("input", () => { entered = false; });
  by("job").addEventListener("click", () => { if (entered) { entered = false; by("job").select(); } });
  by("job").addEventListener("change", () => setJob(by("job").value.trim()));
  by("job").addEventListener("keydown", (event) => {
    if (event.key === "Enter") { event.preventDefault(); setJob(by("job").value.trim()); by("good").focus(); }
  });
  by("work-open").addEventListener("click", open);
  by("work-panel").addEventListener("close", () => { changed(); });
  draw();
}

// ``fresh``: from the server just now, not what this device kept.
export function learn(found, fresh) {
  lists = found;
  fill(by("job-list"), ...Object.entries(found.jobs).map(([code, job]) => make(
    "option", { value: code }, [job.fabric, job.transfer, spaced(job.location)].filter(Boolean).join(", "))));
  follow(found, fresh);
  for (const [name, list] of [["press", found.presses], ["fabric", found.fabrics], ["transfer", found.transfers]]) {
    const only = Object.keys(list);
    if (!work[name] && only.length === 1) { set({ [name]: only[0] }); }
  }
  draw();
}

// What the address asks for is put on the bench once: what is chosen afterwards stays.
function follow(found, fresh) {
  const asked = new URLSearchParams(location.search);
  const [press, job] = [asked.get("press"), asked.get("job")];
  if (press in found.presses) { set({ press }); asked.delete("press"); }
  if (job && (fresh || job in found.jobs)) { setJob(job); asked.delete("job"); }
  if (press !== asked.get("press") || job !== asked.get("job")) {
    history.replaceState(null, "", location.pathname + (asked.size ? "?" + asked : ""));
  }
}

export function set(changes) {
  const next = { ...work, ...changes };
  // settings belong to a press and a kind of work: another one was not set like this
  if (["press", "fabric", "transfer"].some((name) => next[name] !== work[name]) && !changes.settings) {
    next.settings = {};
  }
  work = next;
  localStorage.setItem(KEY, JSON.stringify(work));
  draw();
}

// A job's code as it is on the list, whatever its case; undefined where it is on none.
export function listed(typed) {
  const jobs = lists ? lists.jobs : {};
  return typed in jobs ? typed : Object.keys(jobs).find((one) => one.toLowerCase() === typed.toLowerCase());
}

export function setJob(typed) {
  const jobs = lists ? lists.jobs : {};
  const code = listed(typed) || typed;
  if (code === work.job) { by("job").value = code; return; }
  const job = jobs[code];
  const of = Object.fromEntries(OF_JOB.map((name) => [name, (job && job[name]) || ""]));
  // what was set without a job is of the job that is named now, where the job says nothing itself
  set({ job: code, size: "", ...(code && (job || work.job) ? of : {}) });
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
    ...Object.entries(options || {}).map(([code, called]) => make(
      "option", { value: code, selected: code === work[name] }, name === "press" && called !== code ? code + " · " + called : called)));
  select.addEventListener("change", () => { set({ [name]: select.value }); again(name); });
  return field(name, panel[name], select);
}

function typed(name, options) {
  const offered = options || (lists && lists.seen[name]) || [];
  const input = make("input", { id: "work-" + name, name, autocomplete: "off", value: work[name], list: "list-" + name });
  input.addEventListener("change", () => {
    // a place is known by its code and shown without its underlines: both are the same place
    const given = input.value.trim();
    const same = offered.find((one) => one.toLowerCase() === given.toLowerCase() || spaced(one).toLowerCase() === given.toLowerCase());
    set({ [name]: name === "location" && same ? same : given });
    again(name);
  });
  return field(name, panel[name], make("span", { class: "typed" }, input,
    make("datalist", { id: "list-" + name }, ...offered.map((one) => make("option", { value: one })))));
}

const person = (name) => typed(name);

// Another kind of work has another recipe, and its settings are not those that were written.
function again(name) {
  if (!["press", "fabric", "transfer", "location"].includes(name)) { return; }
  for (const input of document.querySelectorAll("#work-panel .setting input")) { input.value = work.settings[input.name] || ""; }
  cloth();
  drawRecipe();
}

export const settled = () => ((lists && lists.settings) || []).map((one) => one.name);

function settings() {
  const rows = ((lists && lists.settings) || []).map((one) => {
    const { name, label, unit } = one;
    const input = make("input", { id: "work-" + name, name, inputmode: "decimal", autocomplete: "off", value: work.settings[name] || "" });
    input.addEventListener("change", () => {
      const value = checked(input, one);
      if (value !== null) { set({ settings: { ...work.settings, [name]: value } }); }
    });
    return field(name, unit ? `${label}, ${unit}` : label, input);
  });
  return make("fieldset", { class: "setting" }, make("legend", {}, panel.settings),
    make("p", { class: "hint" }, panel.settings_hint),
    make("div", { id: "work-recipe" }, ...recipeParts()), make("div", { class: "work-settings" }, ...rows));
}

// The recipe of the work that is set now: never that of the work before.
function recipeParts() {
  const found = lists && lists.recipe && lists.recipe.of === cloths() ? lists.recipe : null;
  if (!work.fabric || !work.transfer) { return []; }
  if (!found) { return [make("p", { class: "hint" }, words("recipe_wait"))]; }
  const recipe = found.recipe;
  return [make("p", { class: "hint" }, recipe ? words("recipe", { what: recipe.words }) : words("no_recipe")),
    recipe ? make("button", { type: "button", class: "button", on: () => {
      set({ settings: { ...work.settings, ...recipe.values } });
      for (const [name, value] of Object.entries(recipe.values)) { by("work-" + name).value = value; }
    } }, panel.as_recipe) : null].filter(Boolean);
}

const cloths = () => JSON.stringify([work.fabric, work.transfer]);

export function learnRecipe(recipe) {
  if (lists) { lists.recipe = { of: cloths(), recipe }; }
  drawRecipe();
}

function drawRecipe() {
  if (by("work-recipe")) { fill(by("work-recipe"), ...recipeParts()); }
}
