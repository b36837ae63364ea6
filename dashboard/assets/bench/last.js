// The card of what was just recorded: what to do with the piece, what more can be said, undo.
import * as cards from "./cards.js";
import { buttons, by, capital, dispositions, fill, make, words, zones } from "./dom.js";
import * as queue from "./queue.js";
import { known, now, settled } from "./work.js";
import { checked } from "./numbers.js";

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
  const named = (faults) => faults.map((one) => kindName(one.kind).toLowerCase() + (one.zone ? ", " + zones[one.zone] : "")
    + (one.mm ? `, ${one.mm} mm` : "")).join("; ");
  const said = (card) => (card.faults.length ? capital(named(card.faults)) + ": " + dispositions[card.disposition]
    : card.pieces > 1 ? words("goods", { n: card.pieces }) : words("good"));
  const state = (card) => [
    cards.why(card) ? "▲ " + words("not_taken_card", { why: cards.why(card) }) : "",
    card.back ? "○ " + words("taken_back") : "",
    cards.isWaiting(card) ? "◆ " + words("one_waits") : cards.why(card) || card.back ? "" : "● " + words("one_saved"),
    card.attempt > 1 ? words("try", { n: card.attempt }) : "", card.pieces > 1 ? "" : words("piece", card),
    card.note ? words("quoted", card) : ""].filter(Boolean).join(" · ");
  fill(by("last-said"), ...(first ? [make("strong", { class: first.back ? "back" : null }, said(first)), make("small", {}, state(first))]
    : [words("nothing")]));
  // without the lists it cannot say what to do, so it is drawn again when they are there
  const shows = JSON.stringify(first && [Boolean(known()), first.piece, first.attempt, first.faults, first.disposition, first.back]);
  if (shows !== drawn) {
    drawn = shows;
    const at = by("last-more").contains(document.activeElement) ? document.activeElement.dataset.key : "";
    fill(by("last-more"), first && !first.back ? more(first, { kind, changed, add }) : null);
    const same = at && by("last-more").querySelector(`[data-key="${at}"]`);
    if (same) { same.focus(); }
  }
  fill(by("earlier"), ...others.slice(0, 5).map((card) => make("li", { class: card.back ? "back" : null },
    make("span", {}, said(card), make("small", {}, state(card))),
    card.back ? null : make("button", { type: "button", class: "button small", on: () => { cards.takeBack(card); changed(); } }, words("take_back")))));
  // beside a piece that was taken back it does not bring that one back: it takes the one before
  by("undo").textContent = first && first.back && cards.newest() ? words("undo_before") : words("undo_newest");
  by("undo").setAttribute("aria-label", by("undo").textContent + (cards.newest() ? ": " + said(cards.newest()) : ""));
  drawRefused(changed);
}

function more(card, { kind, changed, add }) {
  const change = (fields, changes) => { cards.change(card, fields, changes); changed(); };
  const parts = card.faults.length ? [whatToDo(card, kind, change), extent(card, kind, change)] : [];
  return make("div", { class: "last-parts" }, ...parts,
    make("div", { class: "row" },
      card.pieces > 1 || !card.faults.length ? null : make("button", { type: "button", class: "button", "data-key": "add", on: () => add(card) }, words("add_fault"))),
    measures(card, change));
}

function whatToDo(card, kind, change) {
  const known = card.faults.map((one) => kind(one.kind)).filter(Boolean);
  const first = known.find((one) => (card.attempt > 1 ? one.again : one.first) === card.disposition) || known[0];
  return make("fieldset", { class: "what" }, make("legend", {}, words("what_to_do")),
    make("div", { class: "row" }, ...Object.entries(buttons).map(([code, label]) => make("button", {
      type: "button", class: "chip", "data-key": code, "aria-pressed": String(code === card.disposition),
      on: () => change({ disposition: code }, { disposition: code }) }, label))),
    first && first.usual ? make("p", { class: "hint" }, words("usual_way", { what: first.usual }) + " " + words("first_check", { what: first.check })) : null);
}

function extent(card, kind, change) {
  const newest = card.faults.length - 1;
  const one = card.faults[newest];
  if (!one.zone || !kind(one.kind) || !kind(one.kind).mm) { return null; }
  return make("fieldset", { class: "what" }, make("legend", {}, words("how_far")),
    make("div", { class: "row" }, ...EXTENTS.map((mm) => make("button", {
      type: "button", class: "chip", "data-key": "mm" + mm, "aria-pressed": String(one.mm === mm),
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
  const was = { ...card.measured, note: card.note || "" };
  const inputs = known().measures.map((one) => [one.name, one.label, make("input", { id: "m-" + one.name, inputmode: "decimal", autocomplete: "off", value: said(one.name, was[one.name]) }), one]);
  const note = make("input", { id: "m-note", autocomplete: "off", maxlength: "500", value: said("note", card.note) });
  const details = make("details", { class: "measures", open: open === card.piece },
    make("summary", {}, words("measured")),
    make("div", { class: "work-settings" }, ...inputs.map(([name, label, input]) => make("div", { class: "work-field" }, make("label", { for: "m-" + name }, label), input)),
      make("div", { class: "work-field wide" }, make("label", { for: "m-note" }, words("note")), note)),
    make("button", { type: "button", class: "button", "data-key": "keep", on: () => {
      const read = inputs.map(([name, , input, one]) => [name, checked(input, one)]);
      if (read.some(([, value]) => value === null)) { return; }
      const now = { ...Object.fromEntries(read), note: note.value.trim() };
      // what was said before and is empty now is taken away; what was never said is not sent
      const told = Object.fromEntries(Object.entries(now).filter(([name, value]) => value !== (was[name] || "")));
      typed = {};
      const measured = Object.fromEntries(read.filter(([, value]) => value));
      if (Object.keys(told).length) { drawn = ""; change(told, { measured, note: now.note }); }
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
      entry.action !== "look" || entry.attempt > 1 ? null : make("button", { type: "button", class: "button small",
        on: () => { cards.retry(entry, { ...unset(entry.fields), ...now().settings }); changed(); } }, words("retry")),
      make("button", { type: "button", class: "button small", on: () => { cards.discard(entry); changed(); } }, words("discard"))))) : null);
}

const unset = (fields) => Object.fromEntries(Object.entries(fields).filter(([name]) => !settled().includes(name)));
