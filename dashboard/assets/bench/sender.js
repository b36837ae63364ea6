// Sends what waits, in order, again and again until the server has said that it is durable.
import * as queue from "./queue.js";

const AT_ONCE = 100;
const PATIENCE_MS = 15000;
const AGAIN_MS = [1000, 2000, 4000, 8000, 15000];
const CLOCK_KEY = "peelcheck.bench.clock";

let busy = false;
let failures = 0;
let timer = null;
let told = () => {};
let offset = Number(localStorage.getItem(CLOCK_KEY)) || 0;

// ``onChange(outcomes)`` is called whenever something was said or the connection came or went.
export function start(onChange) {
  told = onChange;
  addEventListener("online", () => send());
  addEventListener("pageshow", () => send());
  send();
}

export const state = () => ({ busy, away: failures > 0 });

// The server's clock as this device knows it: a tablet's own may be hours off.
export const now = () => new Date(Date.now() + offset);

function learnClock(nowMs, sentMs) {
  const trip = Date.now() - sentMs;
  if (typeof nowMs !== "number" || trip > 4000) { return; }
  offset = nowMs - sentMs - trip / 2;
  localStorage.setItem(CLOCK_KEY, String(offset));
}

// An answer of the server as data; throws where there is none or it is to be asked again.
export async function ask(path, options = {}) {
  const sent = Date.now();
  const response = await fetch(path, {
    ...options, cache: "no-store", signal: options.signal || AbortSignal.timeout(PATIENCE_MS),
  });
  const answer = await response.json();
  learnClock(answer.now_ms, sent);
  if (response.status >= 500) { throw new Error(answer.error); }
  return { ok: response.ok, answer };
}

export async function send() {
  if (busy) { return; }
  clearTimeout(timer);
  const part = queue.waiting().slice(0, AT_ONCE);
  if (!part.length) { failures = 0; told([]); return; }
  busy = true;
  told([]);
  let outcomes = [];
  try {
    // from here on it may be on the server: it is never changed or dropped, only followed up
    part.forEach((entry) => queue.put({ ...entry, sent: true }));
    const { ok, answer } = await ask("/bench/entries", {
      method: "POST", headers: { "Content-Type": "application/json", "X-Peelcheck": "bench" },
      body: JSON.stringify({ device: queue.device, entries: part }),
    });
    if (!ok) { throw new Error(answer.error); }
    outcomes = settle(part, answer.outcomes);
    failures = 0;
  } catch {
    failures += 1;
  }
  busy = false;
  told(outcomes);
  if (failures) {
    timer = setTimeout(send, AGAIN_MS[Math.min(failures, AGAIN_MS.length) - 1]);
  } else if (queue.waiting().length) {
    send();
  }
}

function settle(part, outcomes) {
  const by = new Map(part.map((entry) => [entry.name, entry]));
  const found = outcomes.map((outcome) => ({ ...outcome, entry: by.get(outcome.name) }));
  for (const { entry, kept, taken, why } of found) {
    if (kept) { queue.drop(entry); }
    else if (taken) { renumber(entry); }
    else { queue.put({ ...entry, refused: why }); }
  }
  return found;
}

// Another device had the number already: this piece gets a new one, with all that was said of it.
// Never one that was pressed again: the server says so only of a first pressing.
function renumber(look) {
  const piece = queue.newPiece(now());
  for (const entry of queue.waiting()) {
    if (entry.piece_id === look.piece_id && entry.seq >= look.seq) {
      queue.put({ ...entry, piece_id: piece, sent: entry.seq === look.seq ? false : entry.sent });
    }
  }
  look.renumbered = piece;
}
