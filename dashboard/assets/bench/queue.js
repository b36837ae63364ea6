// What was recorded and is not yet known to be durable on the server. Each entry has a key of its
// own in the device's storage, so that two tabs never overwrite one another.
const PREFIX = "peelcheck.bench.entry.";
const tag = Array.from(crypto.getRandomValues(new Uint8Array(5)),
  (n) => "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"[n % 32]).join("");
let pieces = 0;
let entries = 0;

// A name that no other tab, device or day makes: a day, five random letters, a count.
export function newPiece(now) {
  pieces += 1;
  return now.toISOString().slice(2, 10).replaceAll("-", "") + "-" + tag + "-" + pieces;
}

export const device = tag;

export function add(entry) {
  entries += 1;
  const seq = String(Date.now()).padStart(15, "0") + "." + String(entries).padStart(6, "0") + "." + tag;
  const whole = { ...entry, seq, name: seq };
  put(whole);
  return whole;
}

// Throws where the device has no room left: then nothing was recorded, and the page says so.
export function put(entry) {
  localStorage.setItem(PREFIX + entry.seq, JSON.stringify(entry));
}

export function drop(entry) {
  localStorage.removeItem(PREFIX + entry.seq);
}

// All entries in the order they were made; those that were refused too.
export function all() {
  const found = [];
  for (let at = 0; at < localStorage.length; at += 1) {
    const key = localStorage.key(at);
    if (key.startsWith(PREFIX)) {
      try { found.push(JSON.parse(localStorage.getItem(key))); } catch { localStorage.removeItem(key); }
    }
  }
  return found.filter(Boolean).sort((a, b) => (a.seq < b.seq ? -1 : 1));
}

export const waiting = () => all().filter((entry) => !entry.refused);
export const refused = () => all().filter((entry) => entry.refused);
export const isEntryKey = (key) => key !== null && key.startsWith(PREFIX);
