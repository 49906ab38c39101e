// The readings of a sitting: what stands for every piece, what is asked about, judged, taken and put right.
import { fill, field, latestIn, makeFaces, say, showAnswer, showBeen, showButton, showSummary } from "./face.js";
import { freshKey, put, waiting } from "./outbox.js";
import { format, parse, provisional, surprising } from "./reading.js";
import all from "./words.js";

const FRACTION_END = /\/(16|32|64)$/;
const DOUBLE_TAP_MS = 500; // after a take: the next tap would skip what was just read

export const deck = document.querySelector("[data-deck]");
export const state = JSON.parse(deck.querySelector("[data-state]").textContent);
export const words = all.script;
export const keypad = deck.querySelector("[data-keys]");
const made = makeFaces(deck, state, words);
export const steps = made.faces;
export const ids = [...new Set(steps.map((s) => s.dataset.step))];
export const pieces = state.pieces.map(([number, open, practice]) => ({ number, open, practice }));
export const ticked = new Map(state.pieces.map(([number, , , ...passed]) => [number, new Set(passedOf(passed))]));
const unitSign = state.unit === "mm" ? "mm" : "in";
export const known = new Map([[state.piece, { answers: made.answers, latest: latestIn(deck), leftOut: state.left_out }]]);
const book = document.documentElement.dataset.database; // another has pieces of the same numbers
let taking = false;

/** The piece in hand and what stands for it, and what its reading waits for. */
export const at = {
  piece: state.piece,
  answers: made.answers,
  missing: false, // what the laptop knows of a piece that was turned to without it
  asking: null,
  told: null, // the figure that something was said of instead of a verdict
  correcting: null,
  again: false,
  takenAt: 0,
  restsUntil: 0,
  doubts: state.doubts, // what is said of dropped calipers, by letter
  readFor: "", // the step that a reading was called from out of its turn, a cut or the last
  back: [], // what the laptop would not take
};

/** After a "-" the laptop names the steps that are left, where they are fewer. */
function passedOf([first, ...left]) {
  if (first === "-") return ids.filter((id) => !left.includes(id));
  return first ? [first, ...left] : [];
}

/** Whether a face is the one that something in the outbox was read at. */
export const isReadAt = ({ dataset: d }, { station_id, kind, phase }) =>
  Boolean(d.station) && d.station === station_id && d.reads === kind && d.phase === phase;

/** Whether an answer is to what was taken under this key; the page names the laptop's by a handle. */
export const isOf = (answer, key) => Boolean(answer) && key.startsWith(answer.key);

export const opening = (id) => steps.find((s) => s.dataset.step === id).id; // its cutting face comes first
export const stepAfter = ({ dataset: { step } }) => (step === ids.at(-1) ? "" : opening(ids[ids.indexOf(step) + 1]));
export const firstOpen = () => ids.find((id) => !ticked.get(at.piece).has(id)) ?? ids.at(-1);

/** A step lies behind the piece in hand. */
export function tick(id) {
  ticked.get(at.piece).add(id);
  tickOf(id).textContent = "✓";
  been(id);
}

/** A step is still to be done on a piece. */
export function untick(id, number = at.piece) {
  ticked.get(number).delete(id);
  if (number !== at.piece) return;
  tickOf(id).textContent = "·";
  been(id);
}

export const been = (id) => showBeen(id, { answer: at.answers.get(id), passed: ticked.get(at.piece).has(id) }, words);

export const tickOf = (id) => deck.querySelector(`.steps-list a[href="#${CSS.escape(opening(id))}"] [data-tick]`);

/** What this tab knows of its pieces outlives it, for an old page that is come back to. */
export function jot() {
  for (const [number, { answers, latest, leftOut }] of known) {
    const kept = { answers: Object.fromEntries(answers), ticked: [...ticked.get(number)], latest, left_out: leftOut };
    sessionStorage.setItem(jotted(number), JSON.stringify(kept));
  }
}

/** An old page, or one put to sleep, that is come back to: what this tab knew last stands again. */
export async function comeBack() {
  const kept = JSON.parse(sessionStorage.getItem(jotted(at.piece)));
  if (kept) remember(at.piece, kept);
  const held = (await waiting()).map(({ fields }) => fields.key);
  for (const answer of at.answers.values()) answer.unsaved &&= held.includes(answer.key);
}

const jotted = (number) => `known ${book} ${state.set} ${number}`;

/** What this phone took and the laptop has not yet answered stands before what the laptop knows. */
export function remember(number, kept) {
  const here = known.get(number);
  for (const [id, answer] of Object.entries(kept.answers)) {
    if (!here.answers.get(id)?.unsaved) here.answers.set(id, answer);
  }
  for (const id of kept.ticked) ticked.get(number).add(id);
  here.latest = kept.latest;
  here.leftOut ||= kept.left_out;
  if (kept.blank) state.blanks[number] = kept.blank;
  if (number === at.piece) at.missing = false;
}

/** What a face aims at; `shown` is the size that it showed when its reading was taken, if that was another. [mm] */
function aim({ dataset: d }, shown) {
  const [targetMm, finishMm, toleranceMm] = [shown ?? d.target, shown ?? d.finish, d.tolerance].map(Number);
  const blends = !/^(crown|root):/.test(d.station); // a crown has no neighbours to bring down to it
  return { targetMm, finishMm, toleranceMm, kind: d.kind, reads: d.reads, phase: d.phase, tried: !("wet" in d), blends };
}

const figure = (section) => (mm) => `${format(mm, state.unit, "fine" in section.dataset)} ${unitSign}`;

/** Everything a reading's face shows of the piece in hand. */
export function show(section) {
  const id = section.dataset.step;
  const answer = at.answers.get(id);
  const twoWays = section.querySelector("[data-axis]");
  const first = [words.stopped, twoWays ? words.first_way : "", at.missing ? words.not_here_yet : "", skips(section)];
  showAnswer(section, answer, { ...words, stopped: first.filter(Boolean).join(" ") }, sayLot);
  const turnOn = isHalfRead(section, answer);
  if (at.correcting) say(section, fill(words.correcting, answer));
  section.classList.toggle("half", turnOn);
  // Two ways that do not agree take more words than one.
  section.classList.toggle("both", Boolean(answer?.axis === "B" && answer.other && answer.action !== all.action.next));
  // On a small screen the keys make room for what is said, until they are wanted again.
  section.classList.toggle("taken", Boolean(answer) && !at.again && !turnOn && !field(section).value);
  section.classList.toggle("rereads", at.again);
  nameButton(section);
  makeRoom(section);
  showSummary(deck, id, answer && { ...answer, limits: limitsOff(section, answer) }, words);
  been(id);
}

/** Before a second reading is skipped: what two of them mean. */
function skips({ dataset: { step, phase } }) {
  const passed = ticked.get(at.piece);
  const left = steps.filter(({ dataset: d }) => d.phase === "final" && d.step !== step && passed.has(d.step) && !at.answers.has(d.step));
  return phase === "final" && left.length === 1 && !at.missing && !at.answers.has(step) ? words.skip_two : "";
}

/** How many limits a reading lies off; 0 where it is within. */
function limitsOff(section, { word, text, other = "" }) {
  const wanted = aim(section);
  const mm = parse(text.replace("\u00a0", " ").replace("\u2044", "/"), state.unit) ?? wanted.targetMm;
  if (word === "within") return /[▲▼]/.test(other) ? 1 : 0;
  return Math.max(1, Math.abs(mm - wanted.targetMm) / wanted.toleranceMm);
}

/** Where what is said has no room the drawing gives way, then the keys, until they are wanted again. */
export function makeRoom(section) {
  section.classList.remove("tight", "long");
  if (!section.checkVisibility()) return;
  for (const name of ["tight", "long"]) {
    if (document.documentElement.scrollHeight > innerHeight) section.classList.add(name);
  }
}

/** Whether of two ways across the first is right and the second comes now. */
const isHalfRead = (section, answer) =>
  Boolean(section.querySelector("[data-axis]")) && answer?.axis === "A" && answer.word === "within";

/** Which way across is read next: the one put right, the second after the first, else the first. */
export function chooseWay(section) {
  const answer = at.answers.get(section.dataset.step);
  const axis = at.correcting ? answer.axis : isHalfRead(section, answer) ? "B" : "A";
  const choice = section.querySelector(`[data-axis] input[value="${axis}"]`);
  if (choice) choice.checked = true;
}

/** The big button says what it would do now. */
export function nameButton(section) {
  const answer = at.answers.get(section.dataset.step);
  const turnOn = section.matches(".half, .both");
  keypad.classList.toggle("whole", field(section).value.endsWith(" ")); // a blank is not seen
  showButton(section, { asking: at.asking, answer, correcting: at.correcting, turnOn, words });
}

/** What this phone can say before the laptop does. */
export function provisionally(section, { key, value, axis, supersedes, target_mm: shown }) {
  const mm = parse(value, state.unit);
  const other = otherWay(at.answers.get(section.dataset.step), axis, supersedes);
  const first = axis === "B" && other ? parse(other.split(" ")[0], state.unit) : null;
  const judged =
    mm === null
      ? { word: "within", shape: "", say: words.unread, action: "" }
      : provisional(mm, aim(section, shown), all, figure(section), first);
  const text = mm === null ? value : format(mm, state.unit, "fine" in section.dataset);
  return { key, text, axis, other, ...judged, unsaved: true };
}

/** What stands the other way across, where one way is read now. */
function otherWay(before, axis, supersedes) {
  if (!before || axis === "none") return "";
  return before.axis === axis ? before.other : supersedes ? "" : `${before.text} ${before.shape}`;
}

/** Say something of what is typed, for as long as it is typed so. */
export function tell(section, typed, text) {
  at.told = typed;
  say(section, text);
}

/** Whether a figure is so far off that it is asked about; the same figure again is meant, unless no piece was ever so thick. */
function asks(section, text) {
  const mm = parse(text, state.unit);
  const wanted = aim(section);
  if (mm !== null && wanted.reads === "diameter" && mm > state.most) {
    tell(section, text, fill(words.cannot_be, { text }));
    section.querySelector("[data-go]").classList.add("quiet");
    return true;
  }
  if (mm === null || at.asking === text || !surprising(mm, wanted)) return false;
  at.asking = text;
  const off = figure(section)(Math.abs(mm - wanted.targetMm));
  tell(section, text, fill(words.question[mm > wanted.targetMm ? "over" : "under"], { text, off }));
  nameButton(section);
  return true;
}

/** 19/16 on the keys is 1 9/16 or 1 3/16: only the maker knows. */
function isImproper(section, text) {
  const [, over, under] = (text.match(/^(\d+)\/(\d+)$/) ?? []).map(Number);
  if (state.unit === "mm" || !(over >= under)) return false;
  const rest = over % under ? `${over % under}\u2044${under}` : "";
  tell(section, text, fill(words.improper, { text, whole: Math.floor(over / under), rest }));
  return true;
}

/** Take what is typed, unless it is asked about first. */
export async function take(section) {
  const text = field(section).value.trim();
  if (taking || isImproper(section, text) || asks(section, text)) return;
  taking = true;
  const form = section.querySelector("[data-reading]");
  const { station, reads, phase } = section.dataset;
  const item = await keep(section, {
    url: form.getAttribute("action"),
    label: `Piece ${at.piece}, ${section.dataset.label}: ${text}`,
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
      ...(at.asking === text && { sure: "1" }),
      ...("aimed" in section.dataset && { target_mm: section.dataset.target }),
      ...(at.correcting && { supersedes: at.correcting }),
    },
  });
  taking = false;
  if (!item) return;
  at.takenAt = Date.now();
  at.restsUntil = at.takenAt + DOUBLE_TAP_MS;
  navigator.vibrate?.(30);
  const { latest } = known.get(at.piece);
  const name = named(section, item.fields.axis);
  if (at.correcting) latest.splice(latest.findIndex(([where]) => where === name) >>> 0, 1);
  at.asking = at.told = at.correcting = null;
  at.again = false;
  empty(section);
  const held = at.answers.get(section.dataset.step);
  if (!isOf(held, item.fields.key)) at.answers.set(section.dataset.step, provisionally(section, item.fields));
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
export const named = ({ dataset: { label } }, axis) => [label, words.axis[axis]].filter(Boolean).join(", ");

/** The field and its keys come back, where they made room. */
export function readAgain(section) {
  at.again = true;
  section.classList.remove("taken");
  section.classList.add("rereads");
  makeRoom(section);
  field(section).focus();
}

/** What stands is wrong: what is typed next takes its place. */
export function correct(section) {
  at.asking = at.told = null;
  at.correcting = at.answers.get(section.dataset.step).key;
  empty(section);
  chooseWay(section);
  show(section);
  readAgain(section);
}

/** What was thought wrong is right after all. */
export function leaveStanding(section) {
  at.correcting = null;
  at.again = false;
  show(section);
}

/** Say what has become of the piece, from the button beside the verdict. */
async function sayLot(section, what) {
  const label = `Piece ${at.piece}, ${words.lot_do[what]}`;
  return keep(section, { url: document.getElementById("go").getAttribute("action"), label, fields: { what, key: freshKey() } });
}

/** Keep one thing in the outbox; without room for it, send it as a plain form. */
export async function keep(section, thing, next = section.id) {
  thing.fields.wood = state.wood;
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

export const draft = (section) => `draft ${book} ${state.set} ${at.piece} ${section.id}`;

/** What one key makes of what stands in the field. A fraction key closes a fraction. */
function pressed(text, key) {
  // The blank behind whole inches is not seen, so it goes with the figure before it.
  if (key === "rub") return text.replace(/(\/(16|32|64)|. ?)$/, "");
  if (FRACTION_END.test(text)) return text;
  if (key === "whole") return /^\d+$/.test(text) ? `${text} ` : text;
  if (key.startsWith("/")) return /(^|\s)\d+$/.test(text) ? text + key : text;
  if (key === "." && /[.,\s]/.test(text)) return text;
  return text.length < 12 ? text + key : text;
}

/** Attach the keys on the page to whatever field `current()` names. */
export function attachKeypad(current) {
  keypad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.dataset.key;
    const field = current();
    if (!key || !field) return;
    field.value = pressed(field.value, key);
    navigator.vibrate?.(10);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
