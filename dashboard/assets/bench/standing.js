// How the job stands, what waits to be pressed again, and what is off on this press.
import * as cards from "./cards.js";
import { by, capital, fill, make, words } from "./dom.js";
import * as sender from "./sender.js";
import * as work from "./work.js";

const SOON_MS = 700;
const SLOW_MS = 120000;  // flags are looked for in the whole history
let found = null;      // the server's last answer, and for which job
let timer = null;
let asked = 0;
let hooks = null;
let told = "";         // the work whose signs are shown; empty where none are
let gone = new Set();  // pieces pressed again since that answer
const KEY = "peelcheck.bench.standing";

export function start(given) {
  hooks = given;
  // what was known last, for a page that opens without a connection
  try { found = JSON.parse(localStorage.getItem(KEY)); } catch { found = null; }
  if (found) { found.stale = true; }
  setInterval(() => look(true), 60000);
}

export function pressedAgain(piece) {
  gone.add(piece.piece + "/" + piece.attempt);
  draw();
}

// ``all``: the work changed, so flags are looked for too and the faults are put in its order.
export function look(all) {
  clearTimeout(timer);
  timer = setTimeout(() => ask(all), all ? 0 : SOON_MS);
}

// The faults of this kind of work, the commonest first, as far as they are known.
export const usualKinds = () => (found && found.of === String(query()) ? found.kinds : []);

function query() {
  const at = work.now();
  return new URLSearchParams({ job: at.job, fabric: at.fabric, transfer: at.transfer, location: at.location });
}

async function ask(all) {
  const at = work.now();
  asked += 1;
  const mine = asked;
  if (all) { signs(at); }
  if (!at.fabric || !at.transfer) { found = null; draw(); return; }
  const of = String(query());
  try {
    const { ok, answer } = await sender.ask("/bench/job?" + of);
    if (!ok || mine !== asked) { return; }
    const fresh = !found || found.of !== of;
    found = { ...answer, of, stale: false };
    localStorage.setItem(KEY, JSON.stringify(found));
    gone = new Set();
    work.learnRecipe(answer.recipe);
    if (fresh) { hooks.usual(answer.kinds); }
  } catch {
    if (found && found.of !== of) { found = null; }
    if (found) { found.stale = true; work.learnRecipe(found.recipe); }
  }
  draw();
}

export function draw() {
  const at = work.now();
  if (!found || found.of !== String(query())) {
    fill(by("standing"), at.fabric && at.transfer ? null : make("p", { class: "hint" }, words("job_unsaid")));
    fill(by("again"));
    return;
  }
  const of = ((work.known() || { jobs: {} }).jobs[at.job] || {}).ordered;
  const here = cards.all().filter((card) => !card.back && card.job === at.job && cards.isWaiting(card)).reduce((sum, card) => sum + card.pieces, 0);
  const pieces = found.n === 1 ? words("job_piece") : words("job_pieces", found);
  const count = !found.n ? words("job_none") : !of ? pieces
    : found.n > of ? words("job_over", { n: found.n, more: found.n - of }) : words("job_of", { n: found.n, of });
  const said = count + (found.n ? ", " + words("job_bad", found) : "");
  fill(by("standing"),
    make("p", { class: "big" }, at.job ? said : words("loose", { what: said })),
    found.share === null ? null : make("p", {}, words("job_share", found)),
    found.share === null ? null : strip(found.strip, found.above),
    make("p", { class: found.above ? "above-usual" : "hint" }, (found.usual === null ? words("job_no_usual") : words("job_usual", found))
      + (found.above ? ": " + words("job_above") : "")),
    here ? make("p", { class: "hint" }, "◆ " + words("job_waiting", { n: here })) : null,
    found.stale ? make("p", { class: "hint" }, words("job_stale", found)) : null,
    make("p", { class: "hint" }, found.recipe ? words("recipe", { what: found.recipe.words }) : words("no_recipe")));
  const waiting = found.again.filter((piece) => !gone.has(piece.piece + "/" + piece.attempt));
  fill(by("again"), waiting.length ? make("h3", {}, words("again_title", { n: waiting.length })) : null,
    make("ul", { class: "again-list" }, ...waiting.slice(0, 12).map((piece) => make("li", {},
      make("span", {}, make("strong", {}, capital(piece.faults)), make("small", {}, [piece.pressed, words("piece", piece)].filter(Boolean).join(" · "))),
      make("button", { type: "button", class: "button small", on: () => hooks.press(piece) }, words("again_do"))))));
}

function strip({ at, low, high, usual }, above) {
  const mark = (name, style) => { const i = make("i", { class: name }); Object.assign(i.style, style); return i; };
  const percent = (value) => `${100 * value}%`;
  return make("div", { class: "strip" + (above ? " above" : ""), "aria-hidden": "true" },
    mark("range", { left: percent(low), width: percent(high - low) }), mark("at", { left: percent(at) }),
    usual === null ? null : mark("usual", { left: percent(usual) }));
}

async function signs(at) {
  if (!at.press) { fill(by("signs")); told = ""; return; }
  const names = ["press", "station", "operator", "transfer_lot", "garment_lot", "fabric", "transfer", "job"];
  const of = String(new URLSearchParams(names.map((name) => [name, at[name]])));
  // what was found of other work, or was not known, never stands for this work
  if (told !== of) { fill(by("signs"), make("li", { class: "hint" }, words("signs_wait"))); told = ""; }
  try {
    const { ok, answer } = await sender.ask("/bench/signs?" + of, { signal: AbortSignal.timeout(SLOW_MS) });
    if (!ok || at !== work.now()) { return; }
    told = of;
    fill(by("signs"), ...(answer.signs.length ? answer.signs.map((sign) => make("li", { class: "tone-" + sign.tone },
      make("a", { href: sign.href }, (sign.tone === "alarm" ? "▲ " : "◆ ") + sign.words)))
      : [make("li", {}, "● " + words("no_signs"))]));
  } catch {
    if (at !== work.now()) { return; }
    told = "";
    fill(by("signs"), make("li", { class: "hint" }, words("signs_unknown")));
  }
}
