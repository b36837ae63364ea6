// What was just recorded on this device: newest first, kept over a reload of this tab.
import * as queue from "./queue.js";

const KEY = "peelcheck.bench.cards";
const MOST = 12;
let cards = read();

function read() {
  try { return JSON.parse(sessionStorage.getItem(KEY)) || []; } catch { return []; }
}

function keep() {
  sessionStorage.setItem(KEY, JSON.stringify(cards));
}

export const all = () => cards;
export const newest = () => cards.find((card) => !card.back) || null;

// A look recorded: an entry that waits, and its card.
export function look({ entry, card }) {
  queue.add({ ...entry, action: "look", version: 1 });
  cards = [{ ...card, piece: entry.piece_id, attempt: entry.attempt, location: entry.location,
    stage: entry.stage, by: entry.by, version: 1, back: false }, ...cards].slice(0, MOST);
  keep();
}

const same = (one, other) => one.piece === other.piece && one.attempt === other.attempt
  && one.location === other.location && one.stage === other.stage;

// A card as it is now: what was drawn may hold an older one.
const current = (card) => cards.find((one) => same(one, card)) || card;

const entriesOf = (card) => queue.all().filter((entry) => isOf(card, entry));

export const isWaiting = (card) => entriesOf(card).some((entry) => !entry.refused);
export const why = (card) => (entriesOf(card).find((entry) => entry.refused) || {}).refused || "";

// The looks that were refused can be sent again or dropped, with all that was said of them.
export function retry(entry, fields) {
  entriesOfEntry(entry).forEach((other) => queue.put({ ...other, refused: undefined, sent: false,
    fields: other.seq === entry.seq ? fields : other.fields }));
}

export function discard(entry) {
  if (entry.action !== "look") { queue.drop(entry); return; }
  entriesOfEntry(entry).forEach(queue.drop);
  cards = cards.filter((card) => !isOf(card, entry));
  keep();
}

const entriesOfEntry = (entry) => queue.all().filter((other) => isOf(cardOf(entry), other));
const cardOf = (entry) => ({ piece: entry.piece_id, attempt: entry.attempt, location: entry.location, stage: entry.stage });
const isOf = (card, entry) => entry.piece_id === card.piece && entry.attempt === card.attempt
  && entry.location === card.location && entry.stage === card.stage;

// More is said of a look: where it has not left the device yet the look itself says it, else a
// change follows it.
export function change(drawn, fields, more) {
  const card = current(drawn);
  const fresh = entriesOf(card).find((entry) => entry.action === "look" && !entry.sent);
  if (fresh) {
    queue.put({ ...fresh, fields: { ...fresh.fields, ...fields } });
  } else {
    const before = Object.fromEntries(Object.keys(more).map((name) => [name, card[name]]));
    queue.add({ ...of(card), action: "change", fields, version: card.version, before, after: more });
  }
  update(card, { ...more, version: card.version + (fresh ? 0 : 1) });
}

export function takeBack(drawn) {
  const card = current(drawn);
  const entries = entriesOf(card);
  if (entries.some((entry) => entry.action === "look" && (entry.refused || !entry.sent))) {
    entries.forEach(queue.drop);  // it is on no server
  } else {
    queue.add({ ...of(card), action: "take_back", fields: {}, version: card.version });
  }
  update(card, { back: true });
}

const of = (card) => ({ piece_id: card.piece, attempt: card.attempt, location: card.location,
  stage: card.stage, by: card.by });

function update(card, changes) {
  cards = cards.map((one) => (one === card ? { ...one, ...changes } : one));
  keep();
}

// What the server said: a new number, a version that others made as well, or no.
export function learn(outcomes) {
  for (const { entry, taken, kept, version } of outcomes) {
    cards = cards.map((card) => {
      if (!isOf(card, entry)) { return card; }
      if (taken) { return { ...card, piece: entry.renumbered }; }
      return kept ? { ...card, version: Math.max(card.version, version) } : undone(card, entry);
    });
  }
  keep();
}

// A card without what was refused: it shows what the record says.
function undone(card, entry) {
  if (entry.action === "take_back") { return { ...card, back: false }; }
  if (entry.action !== "change") { return card; }
  entriesOf(card).filter((later) => later.seq > entry.seq && !later.refused && later.action !== "look")
    .forEach((later) => queue.put({ ...later, version: Math.max(1, later.version - 1) }));
  const same = (name) => JSON.stringify(card[name]) === JSON.stringify(entry.after[name]);
  const before = Object.fromEntries(Object.entries(entry.before || {}).filter(([name]) => same(name)));
  return { ...card, ...before, version: Math.max(1, card.version - 1) };
}
