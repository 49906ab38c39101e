// The turn page: one step at a time; readings and marks into the outbox; the next piece, wi-fi or not.
import { fill, field, latestIn, makeFaces, say, showAnswer, showBeen, showButton, showDrift, showHandedBack, showLatest, showLines, showQueue, showSummary } from "./face.js";
import { attachKeyboard, attachKeypad } from "./keys.js";
import { answers as laptopAnswers, freshKey, keepTrying, listen, put, putAside, refused, waiting } from "./outbox.js";
import { format, parse, provisional, surprising } from "./reading.js";
import all from "./words.js";

const KEYS_REST_MS = 1000; // after a take, so that a caliper's second Enter does not step on
const DOUBLE_TAP_MS = 500; // after a take: the next tap would skip what was just read
const LEARN_MS = 8000; // for what the laptop knows of another piece
const TREMBLE_MS = 300; // between two taps that step on

const deck = document.querySelector("[data-deck]");
const state = JSON.parse(deck.querySelector("[data-state]").textContent);
const words = all.script;
const handedBack = deck.querySelector("[data-handed-back]");
const markForm = document.getElementById("go");
const queueLine = deck.querySelector("[data-queue]");
const keypad = deck.querySelector("[data-keys]");
const { faces: steps, answers: kept } = makeFaces(deck, state, words);
const ids = [...new Set(steps.map((s) => s.dataset.step))];
const pieces = state.pieces.map(([number, open, practice]) => ({ number, open, practice }));
const ticked = new Map(state.pieces.map(([number, , , ...passed]) => [number, new Set(passedOf(passed))]));
const unitSign = state.unit === "mm" ? "mm" : "in";
const known = new Map([[state.piece, { answers: kept, latest: latestIn(deck), leftOut: state.left_out }]]);
let piece = state.piece;
let { answers } = known.get(piece);
let missing = false; // what the laptop knows of a piece that was turned to without it
let takenAt = 0;
let restsUntil = 0;
let taking = false;
let asking = null;
let correcting = null;
let again = false;
let finished = false;
let cameFrom = ""; // the step that "more" was opened from

/** After a "-" the laptop names the steps that are left, where they are fewer. */
function passedOf([first, ...left]) {
  if (first === "-") return ids.filter((id) => !left.includes(id));
  return first ? [first, ...left] : [];
}

/** Whether an answer is to what was taken under this key; the page names the laptop's by a handle. */
const isOf = (answer, key) => Boolean(answer) && key.startsWith(answer.key);

// ---- where we are -------------------------------------------------------------------------

const shown = () => deck.querySelector(".step:target") ?? deck.querySelector(".step.now");
const opening = (id) => steps.find((s) => s.dataset.step === id).id; // its cutting face comes first
const stepAfter = ({ dataset: { step } }) => (step === ids.at(-1) ? "" : opening(ids[ids.indexOf(step) + 1]));
const firstOpen = () => ids.find((id) => !ticked.get(piece).has(id)) ?? ids.at(-1);
const address = (anchor) =>
  `/sets/${state.set}/turn/${piece}${state.stage ? `?stage=${state.stage}` : ""}#${anchor}`;

function go(anchor) {
  if (!anchor || !document.getElementById(anchor)) return;
  if (location.hash === `#${anchor}`) arrived();
  else location.hash = anchor;
}

function arrived() {
  asking = correcting = null;
  finished = again = false;
  deck.querySelector("[data-stay]")?.remove();
  const section = shown();
  const reading = section.matches(".read");
  keypad.hidden = !reading;
  section.querySelector(".where").append(queueLine);
  section.querySelector(".where").after(handedBack);
  if (reading) {
    section.querySelector(".go-line").prepend(keypad);
    show(section);
  }
  if (section.matches(".more")) showLatest(deck, known.get(piece).latest, words);
  else if (!section.matches(".aside")) cameFrom = section.id;
  scrollTo(0, 0);
  (reading ? field(section) : (section.querySelector("h1") ?? section.querySelector("a"))).focus({ preventScroll: true });
  speak(section);
}

function tick(id) {
  ticked.get(piece).add(id);
  tickOf(id).textContent = "✓";
  been(id);
}

const been = (id) => showBeen(id, { answer: answers.get(id), passed: ticked.get(piece).has(id) }, words);

const tickOf = (id) => deck.querySelector(`.steps-list a[href="#${CSS.escape(opening(id))}"] [data-tick]`);

// ---- from piece to piece ------------------------------------------------------------------

function pieceAfter() {
  const left = pieces.filter(
    (p) => p.open && !p.practice && p.number !== piece && ids.some((id) => !ticked.get(p.number).has(id)),
  );
  return left.find((p) => p.number > piece) ?? left[0];
}

function turnTo(number) {
  if (!known.has(number)) known.set(number, { answers: new Map(), latest: [], leftOut: "" });
  piece = number;
  ({ answers } = known.get(number));
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
    tickOf(id).textContent = ticked.get(piece).has(id) ? "✓" : "·";
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
  missing = ticked.get(number).size > 0;
  await takeUp().catch(() => {});
  try {
    const url = `/sets/${state.set}/turn/${number}?stage=${state.stage}`;
    const reply = await fetch(url, { headers: { Accept: "application/json" }, signal: AbortSignal.timeout(LEARN_MS) });
    const kept = await reply.json();
    if (reply.ok) remember(number, kept);
  } catch {
    setTimeout(() => missing && number === piece && learn(number), LEARN_MS);
  }
  if (number !== piece) return;
  showPiece();
}

/** What this tab knows of its pieces outlives it, for an old page that is come back to. */
function jot() {
  for (const [number, { answers, latest, leftOut }] of known) {
    const kept = { answers: Object.fromEntries(answers), ticked: [...ticked.get(number)], latest, left_out: leftOut };
    sessionStorage.setItem(jotted(number), JSON.stringify(kept));
  }
}

/** An old page, or one put to sleep, that is come back to: what this tab knew last stands again. */
async function comeBack() {
  const kept = JSON.parse(sessionStorage.getItem(jotted(piece)));
  if (kept) remember(piece, kept);
  const held = (await waiting()).map(({ fields }) => fields.key);
  for (const answer of answers.values()) answer.unsaved &&= held.includes(answer.key);
}

const jotted = (number) => `known ${state.set} ${number}`;

/** What this phone took and the laptop has not yet answered stands before what the laptop knows. */
function remember(number, kept) {
  const here = known.get(number);
  for (const [id, answer] of Object.entries(kept.answers)) {
    if (!here.answers.get(id)?.unsaved) here.answers.set(id, answer);
  }
  for (const id of kept.ticked) ticked.get(number).add(id);
  here.latest = kept.latest;
  here.leftOut ||= kept.left_out;
  if (kept.blank) state.blanks[number] = kept.blank;
  if (number === piece) missing = false;
}

function showBlank() {
  const line = deck.querySelector("[data-blank]");
  const blank = state.blanks[piece];
  if (!line) return;
  line.hidden = !blank;
  line.textContent = blank ? fill(words.from_blank, { blank }) : "";
}

function showLeftOut() {
  const line = deck.querySelector("[data-left-out]");
  const { leftOut } = known.get(piece);
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

// ---- a reading ----------------------------------------------------------------------------

function aim({ dataset: d }) {
  const [targetMm, finishMm, toleranceMm] = [d.target, d.finish, d.tolerance].map(Number);
  return { targetMm, finishMm, toleranceMm, kind: d.kind, reads: d.reads, phase: d.phase, tried: !("wet" in d) };
}

const figure = (section) => (mm) => `${format(mm, state.unit, "fine" in section.dataset)} ${unitSign}`;

function show(section) {
  const id = section.dataset.step;
  const answer = answers.get(id);
  const twoWays = section.querySelector("[data-axis]");
  const first = [words.stopped, twoWays ? words.first_way : "", missing ? words.not_here_yet : ""];
  showAnswer(section, answer, { ...words, stopped: first.filter(Boolean).join(" ") }, sayLot);
  const turnOn = isHalfRead(section, answer);
  if (correcting) say(section, fill(words.correcting, answer));
  section.classList.toggle("half", turnOn);
  // Two ways that do not agree take more words than one.
  section.classList.toggle("both", Boolean(answer?.axis === "B" && answer.other && answer.say !== all.verdict.within));
  // On a small screen the keys make room for what is said, until they are wanted again.
  section.classList.toggle("taken", Boolean(answer) && !again && !turnOn && !field(section).value);
  nameButton(section);
  showSummary(deck, id, answer, words);
  been(id);
}

/** Whether of two ways across the first is right and the second comes now. */
const isHalfRead = (section, answer) =>
  Boolean(section.querySelector("[data-axis]")) && answer?.axis === "A" && answer.word === "within";

/** Which way across is read next: the one put right, the second after the first, else the first. */
function chooseWay(section) {
  const answer = answers.get(section.dataset.step);
  const axis = correcting ? answer.axis : isHalfRead(section, answer) ? "B" : "A";
  const choice = section.querySelector(`[data-axis] input[value="${axis}"]`);
  if (choice) choice.checked = true;
}

/** The big button says what it would do now. */
function nameButton(section) {
  const answer = answers.get(section.dataset.step);
  const turnOn = section.classList.contains("half");
  keypad.classList.toggle("whole", field(section).value.endsWith(" ")); // a blank is not seen
  showButton(section, { asking, answer, correcting, turnOn, words });
}

/** What this phone can say before the laptop does. */
function provisionally(section, { key, value, axis, supersedes }) {
  const mm = parse(value, state.unit);
  const other = otherWay(answers.get(section.dataset.step), axis, supersedes);
  const first = axis === "B" && other ? parse(other.split(" ")[0], state.unit) : null;
  const judged =
    mm === null
      ? { word: "within", shape: "", say: words.unread, action: "" }
      : provisional(mm, aim(section), all, figure(section), first);
  const text = mm === null ? value : format(mm, state.unit, "fine" in section.dataset);
  return { key, text, axis, other, ...judged, unsaved: true };
}

/** What stands the other way across, where one way is read now. */
function otherWay(before, axis, supersedes) {
  if (!before || axis === "none") return "";
  return before.axis === axis ? before.other : supersedes ? "" : `${before.text} ${before.shape}`;
}

/** Whether a figure is so far off that it is asked about; the same figure again is meant, unless no piece was ever so thick. */
function asks(section, text) {
  const mm = parse(text, state.unit);
  const wanted = aim(section);
  if (mm !== null && wanted.reads === "diameter" && mm > state.most) {
    say(section, fill(words.cannot_be, { text }));
    return true;
  }
  if (mm === null || asking === text || !surprising(mm, wanted)) return false;
  asking = text;
  const off = figure(section)(Math.abs(mm - wanted.targetMm));
  say(section, fill(words.question[mm > wanted.targetMm ? "over" : "under"], { text, off }));
  nameButton(section);
  return true;
}

/** 19/16 on the keys is 1 9/16 or 1 3/16: only the maker knows. */
function isImproper(section, text) {
  const [, over, under] = (text.match(/^(\d+)\/(\d+)$/) ?? []).map(Number);
  if (state.unit === "mm" || !(over >= under)) return false;
  const rest = over % under ? `${over % under}\u2044${under}` : "";
  say(section, fill(words.improper, { text, whole: Math.floor(over / under), rest }));
  return true;
}

async function take(section) {
  const text = field(section).value.trim();
  if (taking || isImproper(section, text) || asks(section, text)) return;
  taking = true;
  const form = section.querySelector("[data-reading]");
  const { station, reads, phase } = section.dataset;
  const item = await keep(section, {
    url: form.getAttribute("action"),
    label: `Piece ${piece}, ${section.dataset.label}: ${text}`,
    fields: {
      axis: "none",
      ...Object.fromEntries(new FormData(form)),
      station_id: station,
      kind: reads,
      phase,
      unit: state.unit,
      revision: state.revision,
      key: freshKey(),
      value: text,
      ...(asking === text && { sure: "1" }),
      ...("aimed" in section.dataset && { target_mm: section.dataset.target }),
      ...(correcting && { supersedes: correcting }),
    },
  });
  taking = false;
  if (!item) return;
  takenAt = Date.now();
  restsUntil = takenAt + DOUBLE_TAP_MS;
  navigator.vibrate?.(30);
  const { latest } = known.get(piece);
  const name = named(section, item.fields.axis);
  if (correcting) latest.splice(latest.findIndex(([where]) => where === name) >>> 0, 1);
  asking = correcting = null;
  again = false;
  empty(section);
  const held = answers.get(section.dataset.step);
  if (!isOf(held, item.fields.key)) answers.set(section.dataset.step, provisionally(section, item.fields));
  if (section.dataset.phase === "final") tick(section.dataset.step);
  latest.unshift([name, text]);
  chooseWay(section);
  show(section);
}

function empty(section) {
  field(section).value = "";
  sessionStorage.removeItem(draft(section));
}

/** A reading's name in the list of the last ones: its place, and which way across. */
const named = ({ dataset: { label } }, axis) => [label, words.axis[axis]].filter(Boolean).join(", ");

/** The field and its keys come back, where they made room. */
function readAgain(section) {
  again = true;
  section.classList.remove("taken");
  field(section).focus();
}

function correct(section) {
  asking = null;
  correcting = answers.get(section.dataset.step).key;
  empty(section);
  chooseWay(section);
  show(section);
  readAgain(section);
}

/** Say what has become of the piece, from the button beside the verdict. */
async function sayLot(section, what) {
  const label = `Piece ${piece}, ${words.lot_do[what]}`;
  return keep(section, { url: markForm.getAttribute("action"), label, fields: { what, key: freshKey() } });
}

/** Keep one thing in the outbox; without room for it, send it as a plain form. */
async function keep(section, thing, next = section.id) {
  if (state.wood) thing.fields.wood = state.wood;
  try {
    return await put(thing);
  } catch {
    say(section, words.no_room);
    const form = document.createElement("form");
    Object.assign(form, { method: "post", action: thing.url });
    const fields = { ...thing.fields, back: `#${next}?${state.stage}` };
    for (const [name, value] of Object.entries(fields)) {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    }
    document.body.append(form);
    form.submit();
    return null;
  }
}

// ---- every other mark ---------------------------------------------------------------------

async function mark(form, button) {
  const section = button.closest(".step");
  const isGo = "go" in button.dataset;
  if (isGo && section.matches(".read") && field(section).value.trim()) return take(section);
  if (isGo && Date.now() < restsUntil) return;
  if (isGo) restsUntil = Date.now() + TREMBLE_MS;
  if (isGo && correcting) return leaveStanding(section);
  const fields = fieldsOf(form, button);
  const empties = form.querySelector("[data-empty]");
  if (empties) empties.hidden = Boolean(fields.text.trim());
  if (empties && !empties.hidden) return form.elements.text.focus();
  if (isGo && section.matches(".read")) fields.what = answers.has(section.dataset.step) ? "step" : "skip";
  const label = `Piece ${piece}, ${button.textContent.trim()}`;
  const next = isGo && section.dataset.step ? stepAfter(section) : section.id;
  if (!(await keep(section, { url: form.getAttribute("action"), label, fields }, next))) return;
  if (fields.what === "withdrawn") return takeUpTheRest();
  if (section.id === "skip-rest") return leaveOut(fields.key);
  if (isGo) tick(section.dataset.step);
  if (["done", "spoiled"].includes(fields.what)) {
    pieces.find((p) => p.number === piece).open = false;
    return onward("");
  }
  if (isGo) return onward(next);
  form.reset();
  button.textContent = words.kept_mark;
}

/** What was thought wrong is right after all. */
function leaveStanding(section) {
  correcting = null;
  again = false;
  show(section);
}

/** All readings not taken lie behind; what comes after them, or the next piece, shows. */
function leaveOut(key) {
  known.get(piece).leftOut = key;
  for (const s of steps) if (s.dataset.phase === "final") tick(s.dataset.step);
  showLeftOut();
  onward(document.getElementById("done") ? "done" : "");
}

function takeUpTheRest() {
  known.get(piece).leftOut = "";
  const left = steps.filter(({ dataset: d }) => d.phase === "final" && !answers.has(d.step));
  for (const { dataset } of left) {
    ticked.get(piece).delete(dataset.step);
    tickOf(dataset.step).textContent = "·";
  }
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
  const { kind, item, reply } = news;
  if (kind === "kept" && reply.word) settle(item, { ...reply, unsaved: false });
  if (kind === "kept" && reply.moved) location.reload();
  if (kind === "kept" && missing) learn(piece);
  if (kind === "kept" && reply.drift !== undefined) showDrift(deck, reply.drift);
  if (kind === "kept" && reply.at_hand) showLines(deck, reply.at_hand);
  if (kind === "refused") {
    settle(item, null);
    sayWhy(item, reply, news.refused);
  }
  showHandedBack(handedBack, news.refused, words, putAside);
  leave(news.waiting);
}

/** The laptop's own answer takes the place of the phone's; a refused figure goes back to its field. */
function settle(item, answer) {
  for (const section of steps) {
    const id = section.dataset.step;
    if (!section.matches(".read") || !isOf(answers.get(id), item.fields.key)) continue;
    if (answer) {
      answers.set(id, answer);
    } else {
      answers.delete(id);
      ticked.get(piece).delete(id);
      field(section).value ||= item.fields.value;
    }
    show(section);
  }
}

/** A figure that cannot be read is given back where it was typed, with the reason, and nowhere else. */
function sayWhy(item, reply, back) {
  const section = shown();
  if (reply.field !== "value" || field(section)?.value !== item.fields.value) return;
  say(section, `${reply.message} ${reply.hint}`);
  putAside(back.find(({ fields }) => fields.key === item.fields.key).order);
}

/** What waited here when the page was opened is shown as if just tapped. */
async function takeUp() {
  const held = await waiting();
  showQueue(queueLine, { waiting: held }, words);
  for (const { url, fields } of held) {
    const [, set, number] = (url.match(/\/sets\/(\d+)\/pieces\/(\d+)\//) ?? []).map(Number);
    if (set !== state.set || !ticked.has(number)) continue;
    if (fields.step_id) ticked.get(number).add(fields.step_id);
    if (["done", "spoiled"].includes(fields.what)) pieces.find((p) => p.number === number).open = false;
    if (number === piece) takeUpReading(fields);
  }
}

function takeUpReading(fields) {
  const section = steps.find(
    ({ dataset: d }) => d.station && d.station === fields.station_id && d.reads === fields.kind && d.phase === fields.phase,
  );
  if (fields.step_id === "final") known.get(piece).leftOut = fields.key;
  if (!section || isOf(answers.get(section.dataset.step), fields.key)) return;
  answers.set(section.dataset.step, provisionally(section, fields));
  known.get(piece).latest.unshift([named(section, fields.axis), fields.value]);
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

// ---- begin --------------------------------------------------------------------------------

const draft = (section) => `draft ${state.set} ${piece} ${section.id}`;

deck.addEventListener("submit", (event) => {
  const form = event.target;
  event.preventDefault();
  if (!form.matches("[data-mark], [data-reading]")) leaveBy(form, () => form.submit());
  else if (form.matches("[data-mark]")) mark(form, event.submitter ?? form.querySelector("button"));
  else if (field(form.closest(".step")).value.trim()) take(form.closest(".step"));
});

deck.addEventListener("input", (event) => {
  const section = event.target.closest(".step.read");
  if (!section || event.target !== field(section)) return;
  if (asking && asking !== event.target.value.trim()) {
    asking = null;
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

attachKeypad(keypad, () => field(shown()));
attachKeyboard({
  scrolls: () => shown().matches(".more"),
  field: () => field(shown()),
  press() {
    const typed = shown().matches(".read") && field(shown()).value.trim();
    if (typed || Date.now() - takenAt > KEYS_REST_MS) shown().querySelector("[data-go]")?.click();
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
addEventListener("hashchange", arrived);
addEventListener("pagehide", jot);
for (const name of ["offline", "online"]) addEventListener(name, lookForLaptop);
document.addEventListener("visibilitychange", lookForLaptop);
addEventListener("pageshow", async ({ persisted }) => {
  if (!persisted) return;
  await comeBack().catch(() => {});
  learn(piece);
  go(opening(firstOpen()));
});

for (const s of steps) if (s.matches(".read")) field(s).value ||= sessionStorage.getItem(draft(s)) ?? "";
offerSpeech();
keepAwake();
listen(hear);
const old = performance.getEntriesByType("navigation")[0]?.type === "back_forward";
try {
  await takeUp();
  if (old) await comeBack();
  showHandedBack(handedBack, await refused(), words, putAside);
} catch {
  // No storage in this browser: forms are then sent as they are.
}
showPiece();
showDrift(deck, state.drift);
// The browser looked for its target before the faces were made: it has to look once more.
if (!old && document.getElementById(location.hash.slice(1))) location.replace(location.hash);
else location.replace(`#${opening(firstOpen())}`);
arrived();
keepTrying();
if (old) learn(piece);
