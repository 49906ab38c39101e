// The turn page: one step at a time, its marks into the outbox, what comes back; the next piece, wi-fi or not.
import { fill, field, say, showDoubts, showDrift, showHere, showLatest, showLines, showQueue, showSummary } from "./face.js";
import { answers as laptopAnswers, freshKey, giveBack, keepTrying, listen, refused, takeBack, waiting } from "./outbox.js";
import {
  at, attachKeypad, been, chooseWay, comeBack, correct, deck, draft, firstOpen, ids, isOf, isReadAt, jot, keep, keypad,
  known, leaveStanding, makeRoom, named, nameButton, opening, pieces, provisionally, readAgain, remember, show, state,
  stepAfter, steps, take, tell, tick, ticked, tickOf, untick, words,
} from "./taking.js";

const KEYS_REST_MS = 1000; // after a take, so that a caliper's second Enter does not step on
const LEARN_MS = 8000; // for what the laptop knows of another piece
const TREMBLE_MS = 300; // between two taps that step on

const handedBack = deck.querySelector("[data-handed-back]");
const queueLine = deck.querySelector("[data-queue]");
let finished = false;
let cameFrom = ""; // the step that "more" was opened from

// ---- where we are -------------------------------------------------------------------------

const shown = () => deck.querySelector(".step:target") ?? deck.querySelector(".step.now");
const address = (anchor) =>
  `/sets/${state.set}/turn/${at.piece}${state.stage ? `?stage=${state.stage}` : ""}#${anchor}`;

function go(anchor) {
  if (!anchor || !document.getElementById(anchor)) return;
  if (location.hash === `#${anchor}`) arrived();
  else location.hash = anchor;
}

function arrived() {
  at.asking = at.told = at.correcting = null;
  finished = at.again = false;
  deck.querySelector("[data-stay]")?.remove();
  const section = shown();
  const reading = section.matches(".read");
  keypad.hidden = !reading;
  if (!reading) at.readFor = "";
  section.querySelector(".where").append(queueLine);
  section.querySelector(".where").after(handedBack);
  if (reading) {
    section.querySelector(".go-line").prepend(keypad);
    show(section);
  }
  if (section.matches(".more")) showMore();
  else if (!section.matches(".aside")) cameFrom = section.id;
  scrollTo(0, 0);
  (reading ? field(section) : (section.querySelector("h1") ?? section.querySelector("a"))).focus({ preventScroll: true });
  speak(section);
}

/** The sheet says what was read last, and which of all steps one has come from. */
function showMore() {
  showLatest(deck, known.get(at.piece).latest, words);
  const step = document.getElementById(cameFrom)?.dataset.step;
  showHere(deck, step ? opening(step) : "", words.here);
}

// ---- from piece to piece ------------------------------------------------------------------

function pieceAfter() {
  const left = pieces.filter(
    (p) => p.open && !p.practice && p.number !== at.piece && ids.some((id) => !ticked.get(p.number).has(id)),
  );
  return left.find((p) => p.number > at.piece) ?? left[0];
}

function turnTo(number) {
  if (!known.has(number)) known.set(number, { answers: new Map(), latest: [], leftOut: "" });
  at.piece = number;
  at.answers = known.get(number).answers;
  for (const form of deck.querySelectorAll("form[action*='/pieces/']")) {
    form.setAttribute("action", form.getAttribute("action").replace(/pieces\/[1-9]\d*\//, `pieces/${number}/`));
  }
  deck.querySelector("[data-piece-link]").href = `/sets/${state.set}/pieces/${number}`;
  const line = fill(number > state.of ? words.spare_piece : words.piece_of, { number, of: state.of });
  for (const place of deck.querySelectorAll("[data-piece-line]")) place.textContent = line;
  for (const place of deck.querySelectorAll("[data-piece-number]")) place.textContent = number;
  for (const opened of deck.querySelectorAll("details[open]")) opened.open = false;
  for (const s of steps) if (s.matches(".read")) field(s).value = sessionStorage.getItem(draft(s)) ?? "";
  showPiece();
  learn(number);
}

/** Everything the page shows of the piece in hand. */
function showPiece() {
  for (const id of ids) {
    tickOf(id).textContent = ticked.get(at.piece).has(id) ? "✓" : "·";
    showSummary(deck, id, null, words);
    been(id);
  }
  for (const s of steps.filter((s) => s.matches(".read"))) {
    if (!field(s).value) chooseWay(s);
    show(s);
  }
  showBlank();
  showLeftOut();
}

/** What the laptop and this phone's outbox hold of a piece that was not in hand when the page came. */
async function learn(number) {
  at.missing = ticked.get(number).size > 0;
  await takeUp().catch(() => {});
  try {
    const url = `/sets/${state.set}/turn/${number}?stage=${state.stage}`;
    const reply = await fetch(url, { headers: { Accept: "application/json" }, signal: AbortSignal.timeout(LEARN_MS) });
    const kept = await reply.json();
    if (reply.ok) remember(number, kept);
  } catch {
    setTimeout(() => at.missing && number === at.piece && learn(number), LEARN_MS);
  }
  if (number !== at.piece) return;
  showPiece();
}

function showBlank() {
  const line = deck.querySelector("[data-blank]");
  const blank = state.blanks[at.piece];
  if (!line) return;
  line.hidden = !blank;
  line.textContent = blank ? fill(words.from_blank, { blank }) : "";
}

function showLeftOut() {
  const line = deck.querySelector("[data-left-out]");
  const { leftOut } = known.get(at.piece);
  if (!line) return;
  line.hidden = !leftOut;
  line.querySelector("button").value = `withdrawn ${leftOut}`;
}

/** On to the next step, or from the last one to the next piece. */
function onward(next) {
  if (next) return go(next);
  const following = pieceAfter();
  if (!following) return finish();
  turnTo(following.number);
  history.replaceState(null, "", address(opening(firstOpen())));
  location.hash = "";
  go(opening(firstOpen()));
}

/** Nothing more to turn on this page: once the laptop has everything, it knows what comes next. */
async function finish() {
  finished = true;
  say(shown(), words.all_done);
  leave(await waiting());
}

function leave(held) {
  if (finished && !held.length) location.assign(`/sets/${state.set}/turn`);
}

// ---- every other mark ---------------------------------------------------------------------

async function mark(form, button) {
  const section = button.closest(".step");
  const isGo = "go" in button.dataset;
  if (isGo && section.matches(".read") && field(section).value.trim()) return take(section);
  if (isGo && Date.now() < at.restsUntil) return;
  if (isGo) at.restsUntil = Date.now() + TREMBLE_MS;
  if (isGo && at.correcting) return leaveStanding(section);
  if (isGo && at.readFor) return go(at.readFor);
  const fields = fieldsOf(form, button);
  const empties = form.querySelector("[data-empty]");
  if (empties) empties.hidden = Boolean(fields.text.trim());
  if (empties && !empties.hidden) return form.elements.text.focus();
  if (isGo && section.matches(".read")) fields.what = at.answers.has(section.dataset.step) ? "step" : "skip";
  button.dataset.says ??= button.textContent.trim();
  const label = `Piece ${at.piece}, ${inWords(section, button, fields)}`;
  const next = isGo && section.dataset.step ? stepAfter(section) : section.id;
  if (!(await keep(section, { url: form.getAttribute("action"), label, fields }, next))) return;
  if (fields.what === "withdrawn") return takeUpTheRest();
  if (section.id === "skip-rest") return leaveOut(fields.key);
  doubt(fields);
  if (isGo) tick(section.dataset.step);
  if (["done", "spoiled"].includes(fields.what)) {
    pieces.find((p) => p.number === at.piece).open = false;
    return onward("");
  }
  if (isGo) return onward(next);
  form.reset();
  for (const other of button.parentElement.querySelectorAll("[data-says]")) other.textContent = other.dataset.says;
  button.textContent = words.kept_mark;
}

/** A caliper that was dropped is not trusted until it was checked; no letter means all of them. */
function doubt({ what, about }) {
  if (what === "caliper_dropped") at.doubts[about] ??= fill(words.dropped, { letter: about });
  else if (what === "caliper_checked" && about) delete at.doubts[about];
  else if (what === "caliper_checked") at.doubts = {};
  else return;
  showDoubts(deck, at.doubts, words);
}

/** What was tapped, as it is called should it come back. */
function inWords(section, { dataset: { says } }, { what, text, reason, to }) {
  if (what === "note") return fill(words.note_of, { text });
  if (to) return fill(words.moved_to, { to });
  const name = section.dataset.label ?? section.querySelector("h1")?.textContent;
  if (["step", "skip"].includes(what) && section.dataset.step) return fill(words.gone_by[what], { name });
  return [says, reason].filter(Boolean).join(": ");
}

/** All readings not taken lie behind; what comes after them, or the next piece, shows. */
function leaveOut(key) {
  known.get(at.piece).leftOut = key;
  for (const s of steps) if (s.dataset.phase === "final") tick(s.dataset.step);
  showLeftOut();
  onward(document.getElementById("done") ? "done" : "");
}

function takeUpTheRest() {
  known.get(at.piece).leftOut = "";
  const left = steps.filter(({ dataset: d }) => d.phase === "final" && !at.answers.has(d.step));
  for (const { dataset } of left) untick(dataset.step);
  showLeftOut();
  go(left[0]?.id ?? opening(ids[0]));
}

/** What a form says, by the button that sent it: "what step_id", or "what letter" of a caliper. */
function fieldsOf(form, button) {
  const { back: _, stage: __, ...fields } = Object.fromEntries(new FormData(form));
  const [what, where] = button.name === "go" ? button.value.split(" ") : [fields.what];
  const place = where && { [/^(caliper|withdrawn)/.test(what) ? "about" : "step_id"]: where };
  return { ...fields, what, ...place, key: freshKey() };
}

// ---- what comes back ----------------------------------------------------------------------

function hear(news) {
  showQueue(queueLine, news, words);
  if (shown().matches(".read")) makeRoom(shown());
  const { kind, item, reply } = news;
  if (kind === "kept" && reply.word) settle(item, { ...reply, unsaved: false });
  if (kind === "kept" && reply.moved) location.reload();
  if (kind === "kept" && at.missing) learn(at.piece);
  if (kind === "kept" && reply.drift !== undefined) showDrift(deck, reply.drift);
  if (kind === "kept" && reply.at_hand) showLines(deck, reply.at_hand);
  if (kind === "kept" && reply.doubts) showDoubts(deck, (at.doubts = reply.doubts), words);
  if (kind === "refused") {
    settle(item, null);
    sayWhy(item, reply, news.refused);
  }
  handBack(news.refused).catch(() => {}); // it stays in the outbox for the next page
  leave(news.waiting);
}

/** The laptop's own answer takes the place of the phone's; a refused figure goes back to its field. */
function settle(item, answer) {
  const [set, number] = pieceOf(item.url);
  const answers = set === state.set && known.get(number)?.answers;
  for (const section of answers ? steps : []) {
    const id = section.dataset.step;
    if (!section.matches(".read") || !isOf(answers.get(id), item.fields.key)) continue;
    if (answer) {
      answers.set(id, answer);
    } else {
      answers.delete(id);
      if (section.dataset.phase === "final") untick(id, number);
    }
    if (number !== at.piece) continue;
    if (!answer) field(section).value ||= item.fields.value;
    show(section);
  }
}

/** The set and the piece that something in the outbox is of. */
const pieceOf = (url) => (url.match(/\/sets\/(\d+)\/pieces\/(\d+)\//) ?? []).slice(1).map(Number);

/** A figure that cannot be read is given back where it was typed, with the reason, and nowhere else. */
function sayWhy(item, reply, back) {
  const section = shown();
  const here = pieceOf(item.url).join() === [state.set, at.piece].join() && isReadAt(section, item.fields);
  if (!here || reply.field !== "value" || field(section).value !== item.fields.value) return;
  tell(section, item.fields.value, `${reply.message} ${reply.hint}`);
  giveBack(back.splice(back.findIndex(({ fields }) => fields.key === item.fields.key), 1)[0]);
}

/** What the laptop would not take stands on whatever step is open. */
async function handBack(back) {
  at.back = back;
  if (back.length) (await import("./handed_back.js")).showHandedBack(handedBack, at.back);
  else handedBack.hidden = true;
}

/** What waited here when the page was opened is shown as if just tapped. */
async function takeUp() {
  const held = await waiting();
  showQueue(queueLine, { waiting: held }, words);
  for (const { url, fields } of held) {
    const [set, number] = pieceOf(url);
    if (set === state.set) doubt(fields);
    if (set !== state.set || !ticked.has(number)) continue;
    // A step, or with "final" all that only reads.
    for (const { dataset: d } of /^(step|skip|done)$/.test(fields.what) ? steps : []) {
      if ([d.step, d.phase].includes(fields.step_id)) ticked.get(number).add(d.step);
    }
    if (["done", "spoiled"].includes(fields.what)) pieces.find((p) => p.number === number).open = false;
    if (number === at.piece) takeUpReading(fields);
  }
}

function takeUpReading(fields) {
  const section = steps.find((s) => isReadAt(s, fields));
  if (fields.step_id === "final") known.get(at.piece).leftOut = fields.key;
  if (!section || isOf(at.answers.get(section.dataset.step), fields.key)) return;
  at.answers.set(section.dataset.step, provisionally(section, fields));
  known.get(at.piece).latest.unshift([named(section, fields.axis), fields.value]);
  if (fields.phase === "final") tick(section.dataset.step);
}

/** Whether the laptop is away is said before something waits: without it this page cannot be loaded. */
async function lookForLaptop() {
  if (document.visibilityState !== "visible") return;
  const kind = (await laptopAnswers()) ? "" : "later";
  showQueue(queueLine, { kind, waiting: await waiting().catch(() => []) }, words);
}

/** Out of this page only when the laptop answers; else it stays, and says so beside what was tapped. */
async function leaveBy(tapped, away) {
  deck.querySelector("[data-stay]")?.remove();
  if (await laptopAnswers()) return away();
  const line = Object.assign(document.createElement("p"), { className: "caution", role: "alert", textContent: words.stay });
  line.dataset.stay = "";
  tapped.after(line);
}

// ---- extras where the device has them -----------------------------------------------------

const speaker = deck.querySelector("[data-speak]");

function speak(section) {
  if (speaker.getAttribute("aria-pressed") !== "true") return;
  const heard = [...section.querySelectorAll("h1, .size, .aim b")].map((e) => e.textContent.trim());
  speechSynthesis.cancel();
  speechSynthesis.speak(new SpeechSynthesisUtterance(heard.join(", ")));
}

function offerSpeech() {
  if (!("speechSynthesis" in globalThis)) return;
  const set = (on) => speaker.setAttribute("aria-pressed", on);
  speaker.hidden = false;
  set(localStorage.getItem("speak") === "yes");
  speaker.addEventListener("click", () => {
    set(speaker.getAttribute("aria-pressed") !== "true");
    localStorage.setItem("speak", speaker.getAttribute("aria-pressed") === "true" ? "yes" : "no");
  });
}

/** Over plain http the screen cannot be held on, so nothing depends on this. */
async function keepAwake() {
  if (!("wakeLock" in navigator)) return;
  const hold = () => navigator.wakeLock.request("screen").catch(() => {});
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && hold());
  await hold();
}

// ---- real keys ---------------------------------------------------------------------------

/**
 * Real keys: Enter, arrows and page keys step (a pedal types these); a digit goes where a reading
 * is expected. `field()` is the reading field in view or null, `press`, `back` and `digit` act;
 * where the page `scrolls()`, all keys are the browser's own.
 */
function attachKeyboard({ scrolls, field, press, back, digit }) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || scrolls()) return;
    const inField = event.target === field();
    const busy = event.target.closest?.("input, select, textarea, button, a, summary") && !inField;
    const editing = inField && event.target.value !== "";
    const act = actionOf(event.key, { inField, busy, editing });
    if (!act) return;
    event.preventDefault();
    if (event.repeat) return; // a pedal or key held down steps once
    ({ press, back, digit })[act](event.key);
  });
}

function actionOf(key, { inField, busy, editing }) {
  if (key === "Enter") return busy ? null : "press";
  if (key === "PageDown" || (key === "ArrowRight" && !editing && !busy)) return "press";
  if (key === "PageUp" || (key === "ArrowLeft" && !editing && !busy)) return "back";
  return /^[0-9.,]$/.test(key) && !inField && !busy ? "digit" : null;
}

// ---- begin --------------------------------------------------------------------------------

deck.addEventListener("submit", (event) => {
  const form = event.target;
  event.preventDefault();
  if (!form.matches("[data-mark], [data-reading]")) leaveBy(form, () => form.submit());
  else if (form.matches("[data-mark]")) mark(form, event.submitter ?? form.querySelector("button"));
  else if (field(form.closest(".step")).value.trim()) take(form.closest(".step"));
});

deck.addEventListener("input", (event) => {
  const kept = event.target.form?.querySelector("[data-says]");
  if (kept) kept.textContent = kept.dataset.says; // what is typed now is not kept yet
  const section = event.target.closest(".step.read");
  if (!section || event.target !== field(section)) return;
  if (at.told && at.told !== event.target.value.trim()) {
    at.asking = at.told = null;
    show(section);
  }
  sessionStorage.setItem(draft(section), event.target.value);
  nameButton(section);
});

deck.addEventListener("click", (event) => {
  const link = event.target.closest("a[href]:not([href^='#'])");
  if (link && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    leaveBy(link, () => location.assign(link.href));
  }
  if (event.target.closest("[data-close]")) {
    event.preventDefault();
    go(cameFrom || opening(firstOpen()));
  }
  if (event.target.closest("[data-return]")) {
    event.preventDefault();
    go(opening(firstOpen()));
  }
  const early = event.target.closest("[data-early], #done a[href$='/read']");
  if (early) at.readFor = early.closest(".step").id;
  if (at.readFor && event.target.closest(".back")) {
    event.preventDefault();
    go(at.readFor);
  }
  if (event.target.closest("[data-again]")) readAgain(event.target.closest(".step"));
  if (event.target.closest("[data-wrong]")) correct(event.target.closest(".step"));
});

/** What lies half under the big button, tapped where it is hidden, comes into view; nothing is done. */
deck.addEventListener("click", (event) => {
  const bar = event.target.closest(".step:not(.read) .go-line");
  const under = bar && document.elementsFromPoint(event.clientX, event.clientY).find((e) => e.matches(".body :is(a, button, summary, input, label)"));
  if (!under || under.getBoundingClientRect().top >= bar.getBoundingClientRect().top) return;
  event.preventDefault();
  event.stopPropagation();
  under.scrollIntoView({ block: "center" });
}, true);

attachKeypad(() => field(shown()));
attachKeyboard({
  scrolls: () => shown().matches(".more"),
  field: () => field(shown()),
  press() {
    const typed = shown().matches(".read") && field(shown()).value.trim();
    if (typed || Date.now() - at.takenAt > KEYS_REST_MS) shown().querySelector("[data-go]")?.click();
  },
  back: () => go(shown().dataset.back),
  digit(key) {
    const section = shown();
    const reading = section.matches(".read") ? section : document.getElementById(`${section.id}/read`);
    if (!reading) return;
    if (reading !== section) go(reading.id);
    readAgain(reading);
    field(reading).value += key;
    field(reading).dispatchEvent(new Event("input", { bubbles: true }));
    field(reading).focus();
  },
});
deck.querySelector(".steps-list").parentElement.addEventListener("toggle", ({ target }) => {
  target.querySelector("[aria-current]")?.scrollIntoView({ block: "center" });
});
addEventListener("hashchange", arrived);
addEventListener("pagehide", jot);
for (const name of ["offline", "online"]) addEventListener(name, lookForLaptop);
document.addEventListener("visibilitychange", lookForLaptop);
addEventListener("pageshow", async ({ persisted }) => {
  if (!persisted) return;
  await comeBack().catch(() => {});
  learn(at.piece);
  go(opening(firstOpen()));
});

for (const s of steps) if (s.matches(".read")) field(s).value ||= sessionStorage.getItem(draft(s)) ?? "";
offerSpeech();
keepAwake();
listen(hear);
const old = performance.getEntriesByType("navigation")[0]?.type === "back_forward";
try {
  await takeBack();
  await takeUp();
  if (old) await comeBack();
  await handBack(await refused());
} catch {
  // No storage in this browser: forms are then sent as they are.
}
showPiece();
showDrift(deck, state.drift);
showDoubts(deck, at.doubts, words);
// The browser looked for its target before the faces were made: it has to look once more.
if (!old && document.getElementById(location.hash.slice(1))) location.replace(location.hash);
else location.replace(`#${opening(firstOpen())}`);
arrived();
keepTrying();
if (old) learn(at.piece);
