// The card of what was just recorded: what to do with the piece, what more can be said, undo.
import * as cards from "./cards.js";
import { buttons, by, capital, dispositions, fill, make, words, zones } from "./dom.js";
import * as queue from "./queue.js";
import { known } from "./work.js";

const EXTENTS = ["2", "5", "10", "20"];
const GRAVITY = ["pass", "press_again", "hold", "scrap"];
let open = "";          // the piece whose measures are unfolded
let drawn = "";         // what the card shows: it is not drawn anew while somebody types in it
let typed = {};         // what was typed and not kept yet, by piece

// Of what is usually done for each fault, the gravest.
export const worst = (all) => all.reduce((a, b) => (GRAVITY.indexOf(b) > GRAVITY.indexOf(a) ? b : a), "pass");

export const defects = (faults) => faults.map(({ kind, zone, mm }) => (
  kind + (zone ? "@" + zone + (mm ? ":" + mm : "") : ""))).join(";");

export function draw({ kindName, kind, changed, add }) {
  const [first, ...others] = cards.all();
  const named = (faults) => faults.map((one) => kindName(one.kind).toLowerCase() + (one.zone ? ", " + zones[one.zone] : "")).join("; ");
  const said = (card) => (card.faults.length ? capital(named(card.faults)) + ": " + dispositions[card.disposition]
    : card.pieces > 1 ? words("goods", { n: card.pieces }) : words("good"));
  const state = (card) => [
    card.back ? "○ " + words("taken_back") : cards.why(card) ? "▲ " + cards.why(card) : cards.isWaiting(card) ? "◆ " + words("one_waits") : "● " + words("one_saved"),
    card.attempt > 1 ? words("try", { n: card.attempt }) : "", card.pieces > 1 ? "" : words("piece", card)].filter(Boolean).join(" · ");
  fill(by("last-said"), ...(first ? [make("strong", { class: first.back ? "back" : null }, said(first)), make("small", {}, state(first))]
    : [words("nothing")]));
  const shows = JSON.stringify(first && [first.piece, first.attempt, first.faults, first.disposition, first.back]);
  if (shows !== drawn) {
    drawn = shows;
    fill(by("last-more"), first && !first.back ? more(first, { kind, changed, add }) : null);
  }
  fill(by("earlier"), ...others.slice(0, 5).map((card) => make("li", { class: card.back ? "back" : null },
    make("span", {}, said(card), make("small", {}, state(card))),
    card.back ? null : make("button", { type: "button", class: "button small", on: () => { cards.takeBack(card); changed(); } }, words("take_back")))));
  by("undo").setAttribute("aria-label", cards.newest() ? words("undo", { what: said(cards.newest()) }) : by("undo").textContent);
  drawRefused(changed);
}

function more(card, { kind, changed, add }) {
  const change = (fields, changes) => { cards.change(card, fields, changes); changed(); };
  const parts = card.faults.length ? [whatToDo(card, kind, change), extent(card, kind, change)] : [];
  return make("div", { class: "last-parts" }, ...parts,
    make("div", { class: "row" },
      card.pieces > 1 || !card.faults.length ? null : make("button", { type: "button", class: "button", on: () => add(card) }, words("add_fault"))),
    measures(card, change));
}

function whatToDo(card, kind, change) {
  const known = card.faults.map((one) => kind(one.kind)).filter(Boolean);
  const first = known[0];
  return make("fieldset", { class: "what" }, make("legend", {}, words("what_to_do")),
    make("div", { class: "row" }, ...Object.entries(buttons).map(([code, label]) => make("button", {
      type: "button", class: "chip", "aria-pressed": String(code === card.disposition),
      on: () => change({ disposition: code }, { disposition: code }) }, label))),
    first && first.usual ? make("p", { class: "hint" }, words("usual_way", { what: first.usual }) + " " + words("first_check", { what: first.check })) : null);
}

function extent(card, kind, change) {
  const newest = card.faults.length - 1;
  const one = card.faults[newest];
  if (!one.zone || !kind(one.kind) || !kind(one.kind).mm) { return null; }
  return make("fieldset", { class: "what" }, make("legend", {}, words("how_far")),
    make("div", { class: "row" }, ...EXTENTS.map((mm) => make("button", {
      type: "button", class: "chip", "aria-pressed": String(one.mm === mm),
      on: () => {
        const faults = card.faults.map((other, at) => (at === newest ? { ...other, mm } : other));
        change({ defects: defects(faults) }, { faults });
      } }, mm))));
}

// Numbers and a note are typed, so they are kept together with one button.
function measures(card, change) {
  if (card.pieces > 1 || !known()) { return null; }
  const drafts = (typed.piece === card.piece && typed.values) || {};
  const said = (name, kept) => (name in drafts ? drafts[name] : kept || "");
  const inputs = known().measures.map(({ name, label }) => [name, label, make("input", { id: "m-" + name, inputmode: "decimal", autocomplete: "off", value: said(name, (card.measured || {})[name]) })]);
  const note = make("input", { id: "m-note", autocomplete: "off", maxlength: "500", value: said("note", card.note) });
  const details = make("details", { class: "measures", open: open === card.piece },
    make("summary", {}, words("measured")),
    make("div", { class: "work-settings" }, ...inputs.map(([name, label, input]) => make("div", { class: "work-field" }, make("label", { for: "m-" + name }, label), input)),
      make("div", { class: "work-field wide" }, make("label", { for: "m-note" }, words("note")), note)),
    make("button", { type: "button", class: "button", on: () => {
      const measured = Object.fromEntries(inputs.map(([name, , input]) => [name, input.value.trim().replace(",", ".")]).filter(([, value]) => value));
      const told = { ...measured, ...(note.value.trim() ? { note: note.value.trim() } : {}) };
      typed = {};
      if (Object.keys(told).length) { change(told, { measured, note: note.value.trim() }); }
    } }, words("keep")));
  details.addEventListener("toggle", () => { open = details.open ? card.piece : open === card.piece ? "" : open; });
  details.addEventListener("input", () => {
    typed = { piece: card.piece, values: { ...Object.fromEntries(inputs.map(([name, , input]) => [name, input.value])), note: note.value } };
  });
  return details;
}

function drawRefused(changed) {
  const refused = queue.refused();
  fill(by("refused"), refused.length ? make("h3", {}, "▲ " + words("refused_title")) : null,
    refused.length ? make("ul", {}, ...refused.map((entry) => make("li", {},
      make("span", {}, words("piece", { piece: entry.piece_id }) + ": " + entry.refused),
      make("button", { type: "button", class: "button small", on: () => { queue.drop(entry); changed(); } }, words("discard"))))) : null);
}
