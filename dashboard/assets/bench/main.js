// The bench: every finished piece in two taps, by finger, glove, scanner or keyboard.
import * as cards from "./cards.js";
import { by, capital, fill, make, words, zones } from "./dom.js";
import * as last from "./last.js";
import { garment, picture } from "./pictures.js";
import * as queue from "./queue.js";
import * as scanner from "./scanner.js";
import * as sender from "./sender.js";
import * as standing from "./standing.js";
import * as work from "./work.js";

const LISTS = "peelcheck.bench.lists";
const LETTERS = "asdfhjklqwertyiopzxcvbnm";  // g is good, u is undo
const SHOWN = 9;
const ANEW_MS = 600000;
const NEEDED = [["presses", "press"], ["fabrics", "fabric"], ["transfers", "transfer"]];
const DIGITS = { 7: 0, 8: 1, 9: 2, 4: 3, 5: 4, 6: 5, 1: 6, 2: 7, 3: 8 };
let zone = null;      // the place tapped, waiting for its fault
let fault = null;     // the fault tapped, waiting for its place
let again = null;     // the piece that was pressed again
let adding = null;    // the card that gets another fault
let order = [];
let just = { code: "", at: 0 };  // the fault recorded last: a second tap of a bouncing finger is none
const BOUNCE_MS = 500;

const kind = (code) => (work.known() ? work.known().kinds[code] : null);
const kindName = (code) => (kind(code) ? kind(code).name : code);

function ready() {
  const lists = work.known();
  const missing = work.missing();
  const lacks = lists && NEEDED.find(([name]) => !Object.keys(lists[name]).length);
  const said = !lists ? "" : !lists.live ? words("looks_back") : lacks ? words("new_shop", { what: lacks[1] }) + " "
    : missing.length ? words("needs_work", { what: missing.join(", ") }) : "";
  fill(by("work-needs"), said, lists && lists.live && lacks ? make("a", { href: "/setup" }, words("to_setup")) : null);
  return Boolean(lists) && !said;
}

// Where nothing can be recorded yet, what is missing is asked for.
function able() {
  if (ready()) { return true; }
  const empty = by("work-needs").querySelector("a");
  if (empty) {
    empty.focus();  // there is nothing to choose from yet
  } else if (work.known() && work.known().live) {
    const first = ["press", "fabric", "transfer", "inspector"].find((name) => !work.now()[name]);
    work.open(first);
  }
  return false;
}

function fields(faults, pieces, disposition) {
  const at = work.now();
  const said = {
    inspected_at: sender.now().toISOString(), press: at.press, fabric: at.fabric,
    transfer: at.transfer, job: at.job, operator: at.operator, inspector: at.inspector,
    transfer_lot: at.transfer_lot, garment_lot: at.garment_lot, size: at.size,
    station: at.station, ...at.settings, defects: last.defects(faults), disposition,
    ...(pieces > 1 ? { pieces: String(pieces), defective: "0" } : {}),
  };
  return Object.fromEntries(Object.entries(said).filter(([, value]) => value !== ""));
}

function record(faults, pieces = 1) {
  if (!able()) { return; }
  const at = work.now();
  const attempt = again ? again.attempt + 1 : 1;
  const found = faults.map((one) => kind(one.kind));
  const disposition = !faults.length ? "pass" : last.worst(found.map((one) => (attempt > 1 ? one.again : one.first)));
  const entry = {
    piece_id: again ? again.piece : queue.newPiece(sender.now()), attempt, by: at.inspector,
    location: (again ? again.location : at.location) || "", stage: again ? again.stage : at.stage,
    fields: fields(faults, pieces, disposition),
  };
  try {
    cards.look({ entry, card: { faults, pieces, disposition, job: at.job } });
  } catch {
    by("work-needs").textContent = words("full");
    return;
  }
  if (again) { standing.pressedAgain(again); }
  calm();
  show();
  sender.send();
}

function addFault(one) {
  const card = cards.all().find((other) => other.piece === adding);
  const faults = [...card.faults, one];
  const usual = card.attempt > 1 ? kind(one.kind).again : kind(one.kind).first;
  const disposition = last.worst([card.disposition, usual]);  // what somebody decided meanwhile stands
  cards.change(card, { defects: last.defects(faults), disposition }, { faults, disposition });
  calm();
  show();
  sender.send();
}

function found(code, at) {
  const one = { kind: code, zone: at };
  if (adding) { addFault(one); } else { record([one]); }
}

function tapZone(name) {
  if (fault) { found(fault, name); return; }
  zone = zone === name ? null : name;
  prompt();
}

function tapFault(code) {
  if (!able() || (just.code === code && performance.now() - just.at < BOUNCE_MS)) { return; }
  if (zone || !kind(code).placed) {
    found(code, zone);
    just = { code, at: performance.now() };
    return;
  }
  fault = fault === code ? null : code;
  prompt();
}

function calm() {
  zone = fault = again = adding = null;
  prompt();
}

function prompt() {
  by("prompt").textContent = fault ? words("pick_place", { fault: kindName(fault) })
    : zone ? words("pick_fault", { place: capital(zones[zone]) }) : words("tap_place");
  document.querySelectorAll(".zone").forEach((button) => button.setAttribute("aria-pressed", button.dataset.zone === zone));
  document.querySelectorAll(".fault").forEach((button) => button.setAttribute("aria-pressed", button.dataset.kind === fault));
  by("print").classList.toggle("asks", Boolean(fault));
  by("no-place").hidden = !fault;
  const banner = by("again-banner");
  banner.hidden = !again && !adding;
  fill(banner, again ? make("p", {}, words("again_now", again)) : adding ? make("p", {}, words("adding", { piece: adding })) : null,
    again || adding ? make("button", { type: "button", class: "button", on: () => { calm(); } }, words("cancel")) : null);
  document.querySelectorAll(".stack").forEach((button) => { button.hidden = Boolean(again || adding); });
  by("good").disabled = Boolean(adding);
}

function drawFaults(usual) {
  const known = Object.keys(work.known().kinds);
  order = [...usual.filter((code) => known.includes(code)), ...known.filter((code) => !usual.includes(code))];
  const button = (code, at) => make("button", {
    type: "button", class: "fault", "data-kind": code, "aria-pressed": "false", title: kind(code).what || null,
    "aria-keyshortcuts": LETTERS[at], on: () => tapFault(code) },
  make("span", { class: "picture", drawn: picture(code) }), make("span", { class: "fault-name" }, kind(code).name),
  LETTERS[at] ? make("kbd", { "aria-hidden": "true" }, LETTERS[at].toUpperCase()) : null);
  fill(by("faults"), ...order.slice(0, SHOWN).map(button));
  fill(by("other-faults"), ...order.slice(SHOWN).map((code, at) => button(code, at + SHOWN)));
  drawLimits();
}

function drawLimits() {
  const place = work.known().places[work.now().location] || {};
  const known = place.dx !== null && place.dx !== undefined;
  fill(by("limits-place"), known ? make("figure", { class: "place-limit" }, tolerance(place), make("figcaption", {}, words(
    "place_within", { dx: place.dx, dy: place.dy ?? "–", turn: place.turn ?? "–", reference: place.reference || "–" }))) : null);
  fill(by("limits-list"), ...order.filter((code) => kind(code).good).map((code) => make("li", {},
    make("span", { class: "picture", drawn: picture(code) }), make("div", {}, make("strong", {}, kind(code).name),
      make("p", {}, make("b", { class: "good-word" }, words("limits_good") + ": "), kind(code).good),
      make("p", {}, make("b", { class: "bad-word" }, words("limits_bad") + ": "), kind(code).not_good),
      make("p", { class: "hint" }, words("limits_measure") + ": " + kind(code).measure)))));
}

// The print where it should sit, and the room it has: to one scale.
function tolerance({ dx, dy }) {
  const [w, h, scale] = [2 * dx + 44, 2 * (dy ?? dx) + 44, 2];
  const svg = `<svg viewBox="0 0 ${w * scale} ${h * scale}" width="${w * scale}" aria-hidden="true">`
    + `<rect class="room" x="1" y="1" width="${w * scale - 2}" height="${h * scale - 2}" rx="3"/>`
    + `<rect class="p" x="${dx * scale}" y="${(dy ?? dx) * scale}" width="${44 * scale}" height="${44 * scale}" rx="3"/></svg>`;
  return make("span", { class: "picture", drawn: svg });
}

function show() {
  last.draw({
    kindName, kind, changed: () => { show(); sender.send(); },
    add: (card) => { calm(); adding = card.piece; prompt(); by("faults").querySelector("button").focus(); },
  });
  fill(by("garment").querySelector(".where") || by("garment").appendChild(make("span", { class: "where" })),
    make("span", { class: "picture", drawn: garment(work.now().location) }));
  sending();
}

function sending() {
  const n = queue.waiting().length;
  const refused = queue.refused().length;
  const { away } = sender.state();
  const said = away ? (n ? words("away", { n }) : words("away_none"))
    : n ? (sender.state().busy ? words("saving") : words("waiting", { n })) : refused ? "" : words("saved");
  const line = by("sending");
  line.textContent = [said && (away || n ? "◆ " : "● ") + said, refused && "▲ " + words("not_taken", { n: refused })].filter(Boolean).join(" · ");
  line.className = "shop sending " + (away ? "away" : n ? "waits" : "saved");
  by("undo").disabled = !cards.newest();
}

function workChanged() {
  calm();
  show();
  ready();
  drawIfKnown(standing.usualKinds());
  standing.look(true);
}

function drawIfKnown(usual) {
  if (work.known()) { drawFaults(usual); }
}

function press(typed) {
  if (!by("keys").checked) { return; }
  const key = typed.toLowerCase();
  const at = LETTERS.indexOf(key);
  if (key === "g") { by("good").click(); }
  else if (key === "u") { by("undo").click(); }
  else if (key in DIGITS) { document.querySelectorAll(".zone")[DIGITS[key]].click(); }
  else if (at >= 0 && at < order.length) { tapFault(order[at]); }
}

async function lists() {
  const kept = JSON.parse(localStorage.getItem(LISTS) || "null");
  if (kept) { learn(kept, false); }
  try {
    const { ok, answer } = await sender.ask("/bench/lists");
    if (!ok) { return; }
    localStorage.setItem(LISTS, JSON.stringify(answer));
    learn(answer, true);
    setTimeout(lists, ANEW_MS);  // jobs and people come and go
  } catch {
    setTimeout(lists, 8000);
  }
}

function learn(found, fresh) {
  work.learn(found, fresh);
  ready();
  drawFaults(standing.usualKinds());
  prompt();
  standing.look(true);
}

function shell() {
  const scheme = () => JSON.parse(localStorage.getItem("scheme") || "null");
  const dress = (now) => {
    const [, said, hint] = window.dash_clientside.shell.dress(now);
    fill(by("turn"), said);
    by("turn").title = hint;
  };
  by("turn").addEventListener("click", () => {
    const next = window.dash_clientside.shell.turn(1, scheme());
    localStorage.setItem("scheme", JSON.stringify(next));
    dress(next);
  });
  dress(scheme() || document.documentElement.getAttribute("data-mantine-color-scheme"));
}

function begin() {
  shell();
  work.start(workChanged, () => standing.look(true));
  standing.start({ kindName, usual: drawIfKnown, press: (piece) => { calm(); again = piece; prompt(); by("good").focus(); } });
  by("good").addEventListener("click", () => record([]));
  document.querySelectorAll(".stack").forEach((button) => button.addEventListener("click", () => record([], Number(button.dataset.stack))));
  document.querySelectorAll(".zone").forEach((button) => button.addEventListener("click", () => tapZone(button.dataset.zone)));
  by("no-place").addEventListener("click", () => found(fault, null));
  by("undo").addEventListener("click", () => {
    if (cards.newest()) { cards.takeBack(cards.newest()); calm(); show(); sender.send(); }
  });
  by("more-faults").addEventListener("click", () => {
    const other = by("other-faults");
    other.hidden = !other.hidden;
    by("more-faults").setAttribute("aria-expanded", String(!other.hidden));
  });
  by("keys").checked = localStorage.getItem("peelcheck.bench.keys") !== "off";
  by("keys").addEventListener("change", () => localStorage.setItem("peelcheck.bench.keys", by("keys").checked ? "on" : "off"));
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") { calm(); } });
  scanner.listen({ press, scan: work.setJob, isJob: (code) => work.listed(code) !== undefined, singleKeys: () => by("keys").checked });
  addEventListener("storage", (event) => { if (queue.isEntryKey(event.key)) { show(); } });
  calm();
  show();
  lists();
  let wasAway = false;
  sender.start((outcomes) => {
    const { away } = sender.state();
    cards.learn(outcomes);
    show();
    standing.draw();
    if (outcomes.length || away !== wasAway) { standing.look(wasAway && !away); }
    wasAway = away;
  });
  if ("serviceWorker" in navigator) { navigator.serviceWorker.register("/bench-worker.js", { scope: "/bench" }).catch(() => {}); }
}

begin();
