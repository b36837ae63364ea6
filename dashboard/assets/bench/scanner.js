// A hand scanner types a code faster than a hand, and Enter: wherever the focus is, that is a job
// and never a row of faults. What a hand types goes on as single keys.
const APART_MS = 50;     // two keys of one code at most; common practice, no source
const WITHOUT_ENTER = 4; // so short a code needs Enter behind it

let typed = [];
let last = 0;
let timer = null;

// ``press(key)``: a single key; ``isJob(code)``: on a list; ``scan(code)``: puts a job on the bench.
export function listen({ press, isJob, scan, singleKeys }) {
  const gathered = () => { clearTimeout(timer); const keys = typed; typed = []; return keys; };
  const done = () => {
    const keys = gathered();
    const code = keys.join("");
    if (keys.length >= WITHOUT_ENTER && isJob(code)) { scan(code); } else { keys.forEach(press); }
  };
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("input, select, textarea, dialog") || event.ctrlKey || event.metaKey || event.altKey) { return; }
    const near = typed.length > 0 && event.timeStamp - last <= APART_MS;
    if (event.key === "Enter" && near && typed.length > 1) {
      event.preventDefault();
      scan(gathered().join(""));
    } else if (event.key.length === 1 && event.key !== " ") {
      if (!near) { done(); }
      if (near || singleKeys()) { event.preventDefault(); }
      if (event.repeat) { return; }  // a key that is held down is one piece, not thirty
      typed.push(event.key);
      last = event.timeStamp;
      clearTimeout(timer);
      timer = setTimeout(done, APART_MS);
    } else if (event.key !== "Shift") {
      done();
    }
  });
}
