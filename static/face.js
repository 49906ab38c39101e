// What the turn page shows: its faces, verdicts, the state of the big button, what waits, what came back.

import { format } from "./reading.js";

const NAMED = 3; // of what was not read or lies beyond its limits, by name
const IN_HAND = ':scope > [href^="#ah-"], :scope > g:not([clip-path])'; // a caliper on the work
const SVG = "http://www.w3.org/2000/svg";

/** Put named values into a sentence. */
export const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");

/** The reading field of a step. */
export const field = (section) => section.querySelector(".entry input");

/**
 * Make a face of every reading in the list that serves without script, each behind the step it
 * belongs to. The list has done its work then. Returns every step's faces in the order of work, and
 * what the list had answered, by step.
 */
export function makeFaces(deck, { order, unit, places, from }, words) {
  const list = deck.querySelector("[data-readings]");
  const inMore = deck.querySelector("[data-finals]");
  const handles = list?.dataset.readings.match(/.{4}/g) ?? []; // in the order of the answers
  const answers = new Map();
  const sign = unit === "mm" ? "mm" : "in";
  for (const row of list?.querySelectorAll("[data-to]") ?? []) {
    const face = faceOf(row, deck.querySelector("[data-face]"), unit);
    field(face).setAttribute("aria-label", fill(words.entry[face.dataset.reads], { sign }));
    const answered = row.querySelector(".verdict");
    if (answered) answers.set(face.dataset.step, answerIn(answered, handles.shift()));
    const cut = document.getElementById(face.dataset.step);
    if (cut) {
      cut.after(face);
      face.dataset.cut = cut.id;
      cut.querySelector("[data-read]").href = `#${face.id}`;
      face.querySelector(".picture").replaceChildren(cut.querySelector(".drawing").cloneNode(true));
    } else {
      list.before(face);
      inMore.before(inList(inMore, face, words));
      summarise(deck, face);
    }
  }
  list?.remove();
  inMore?.remove();
  const faces = [...deck.querySelectorAll(".step:not(.aside)")];
  for (const face of faces) face.dataset.step ??= face.id;
  if (order.length) faces.sort((a, b) => order.indexOf(a.dataset.step) - order.indexOf(b.dataset.step));
  faces.forEach((face, i) => turnsBack(face, faces[i - 1], faces));
  const finals = faces.filter(({ dataset }) => dataset.phase === "final");
  const cuts = faces.filter((face) => !face.matches(".read"));
  putPlaces(faces, deck, { places, from, sign });
  for (const cut of cuts) offerFinal(cut, finals, words);
  finals.forEach((face, i) => {
    face.querySelector(".where small").textContent = fill(words.final_nth, { nth: i + 1, count: finals.length });
    putLetter(face, cuts, sign);
  });
  return { faces, answers };
}

/** The laptop's answer to a reading, from the words it stands in. */
function answerIn(place, key) {
  const [shape, text, say, action] = [".mark-shape", "b", ".say", ".action"].map((part) => place.querySelector(part).textContent);
  const word = place.querySelector(".word").classList[1];
  return { ...place.dataset, key, word, shape, text, say, action };
}

/** The face that one row of the list becomes. */
function faceOf(row, mould, unit) {
  const face = mould.content.firstElementChild.cloneNode(true);
  const input = row.querySelector("input");
  const step = input.name;
  const [what, ...place] = step.split(":");
  const { to, off, finish = to, at = place.join(":"), tenon } = row.dataset;
  const reads = what === "position" ? "position" : "diameter";
  const phase = ["final", "position"].includes(what) ? "final" : "sizing";
  const kind = tenon === undefined ? "" : "tenon";
  const label = row.querySelector("span").textContent;
  Object.assign(face.dataset, { step, reads, phase, label, station: at, target: to, finish, tolerance: off, kind });
  if (tenon === "wet") face.dataset.wet = "";
  if ("aimed" in row.dataset) face.dataset.aimed = ""; // at what its hole wants
  face.id = `${step}/read`;
  face.querySelector("h1").textContent = label;
  face.querySelector(".aim b").replaceChildren(...row.querySelector("b").cloneNode(true).childNodes);
  face.querySelector("[data-go]").value = `skip ${step}`;
  field(face).value = input.value;
  field(face).inputMode = "none"; // our own keys are larger than the phone's
  if (kind && reads === "diameter") face.dataset.fine = "";
  else face.querySelector("[data-axis]").remove();
  // A limit is often less than a sixteenth.
  face.querySelector("[data-limit]").textContent = `±${format(Number(off), unit === "in/16" ? "in/64" : unit, "fine" in face.dataset)}`;
  if (phase === "final" && reads === "diameter") putCaliper(face.querySelector(".drawing"), at);
  return face;
}

/** A cut to a size that only its final reading reads leads to that one. */
function offerFinal(cut, finals, words) {
  const alike = finals.filter(({ dataset: d }) => d.reads === "diameter" && d.label === nameOf(cut));
  const final = alike.find((face) => placeOf(face).startsWith(placeOf(cut))) ?? alike[0]; // two may share a name
  if (!final || !cut.querySelector(".size") || cut.querySelector("[data-read]")) return;
  const link = Object.assign(document.createElement("a"), { className: "second", href: `#${final.id}`, textContent: words.read });
  link.dataset.early = "";
  const line = cut.querySelector(".go-line");
  line.classList.add("pair");
  line.prepend(link);
}

const placeOf = (face) => face.querySelector(".at b, .from")?.textContent.replace("\u00a0", " ") ?? "";

/** Where along the spindle a size is read: as the state has it, else the list of the lines to mark. */
function putPlaces(faces, deck, { places, from, sign }) {
  const lines = [...deck.querySelectorAll("#set_out .positions tr")];
  const end = from ? `${sign} ${from}` : deck.querySelector("#set_out caption").textContent;
  const marked = new Map(lines.map(({ cells: [name, mm] }) => [name.textContent, mm.textContent]));
  for (const face of faces.filter(({ dataset }) => dataset.reads === "diameter")) {
    const mm = places[face.dataset.station] ?? marked.get(face.dataset.label);
    if (mm) face.querySelector("h1").append(" ", span("from", `${mm} ${end}`));
  }
}

/** The drawing of a finished spindle gets the caliper that stands at a place. */
function putCaliper(drawing, place) {
  const hand = document.createElementNS(SVG, "use");
  hand.setAttribute("href", `#ah-${place}`);
  drawing.firstElementChild.after(hand);
}

/** A final reading says which caliper stands at its size, where one was set to it. */
function putLetter(face, cuts, sign) {
  const aim = face.querySelector(".aim b").textContent;
  const cut = cuts.find(
    (c) => nameOf(c) === face.dataset.label && aim.startsWith(`${c.querySelector(".size > span")?.textContent} ${sign}`),
  );
  const letter = cut?.querySelector(".caliper b");
  if (!letter) return;
  face.querySelector(".aim p").prepend(span("letter", letter.textContent));
}

const nameOf = (face) => face.querySelector("h1").textContent;

/** A reading's line in the list of all steps. */
function inList(like, { id, dataset }, words) {
  const line = like.cloneNode(true);
  delete line.dataset.finals;
  line.querySelector("a").href = `#${id}`;
  line.querySelector("a").lastElementChild.textContent = fill(words.in_list, { name: dataset.label });
  return line;
}

/** A reading's line in the summary of the piece. */
function summarise(deck, { dataset }) {
  const table = deck.querySelector("[data-summary]");
  if (!table) return;
  const line = table.tBodies[0].insertRow();
  line.dataset.of = dataset.step;
  const name = document.createElement("th");
  name.scope = "row";
  name.textContent = dataset.label;
  const value = document.createElement("td");
  value.className = "number";
  value.dataset.value = "";
  line.append(name, value);
  table.hidden = false;
}

/** Where a face leads back to: to its own cutting face, else to the step before, as it opens. */
function turnsBack(face, before, faces) {
  const opens = before && faces.find((f) => f.dataset.step === before.dataset.step).id;
  face.dataset.back = face.dataset.cut ?? opens ?? "";
  const back = face.querySelector(".where .back");
  if (back) back.href = `#${face.dataset.back}`;
  back?.classList.toggle("gone", !face.dataset.back);
}

/** Say one thing where the verdict stands. */
export function say(section, text) {
  put(section.querySelector("[data-said]") ?? document.querySelector("[data-queue]"), text);
}

/** Words into a place, their fractions set as the page's own are. */
function put(place, text) {
  place.textContent = text;
  if (!text.includes("⁄")) return place;
  const joined = place.innerHTML.replace(/(?<=\d) (?=\d+⁄)/g, "&nbsp;");
  place.innerHTML = joined.replace(/(\d+)⁄(\d+)/g, "<sup>$1</sup>⁄<sub>$2</sub>");
  return place;
}

/** Show what stands for a step, or that nothing does; `sayLot` keeps what becomes of the piece. */
export function showAnswer(section, answer, words, sayLot) {
  const place = section.querySelector("[data-said]");
  section.querySelector("[data-wrong]").hidden = !answer;
  section.querySelector("[data-lot]")?.remove();
  if (!answer) return place.replaceChildren(span("unsaved", words.stopped));
  const axis = span("way", words.axis[answer.axis] ? ` (${words.axis[answer.axis]})` : "");
  const word = span(`word ${answer.word}`, "");
  const shape = span("mark-shape", answer.shape);
  shape.setAttribute("aria-hidden", "true");
  word.append(shape, span("", answer.text), axis, span("so", `: ${answer.say}`));
  const action = span("action", answer.action);
  const more = [
    answer.unsaved ? words.unsaved : "",
    answer.earlier ? fill(words.earlier, { text: answer.earlier }) : "",
    answer.axis === "A" && answer.word === "within" ? words.quarter : "",
  ];
  place.replaceChildren(word, " ", action, ...more.filter(Boolean).flatMap((text) => [" ", span("", text)]));
  if (answer.lot) section.querySelector("[data-go]").before(lotButton(section, answer.lot, words, sayLot));
}

/** What a verdict suggests becomes of the piece: beside the big button, one tap. */
function lotButton(section, what, words, sayLot) {
  const lot = button("second", words.lot_do[what]);
  lot.dataset.lot = "";
  lot.addEventListener("click", async () => {
    if (await sayLot(section, what)) lot.textContent = words.kept_mark;
  });
  return lot;
}

/** The one big button: take what is typed, or go on. */
export function showButton(section, { asking, answer, correcting, turnOn, words }) {
  const go = section.querySelector("[data-go]");
  const text = field(section).value.trim();
  go.textContent = text
    ? fill(asking === text ? words.take_sure : words.take_it, { text })
    : correcting ? fill(words.leave_standing, answer) : answer ? words.next : words.skip;
  // What was found stops the hand: the strong button goes on only from what is right.
  go.classList.toggle("quiet", !text && (correcting || turnOn || answer?.word !== "within"));
  const lot = section.querySelector("[data-lot]");
  if (lot) lot.hidden = Boolean(text || correcting);
}

/** A step that is gone back to says what was done at it, shows it done, and what was read. */
export function showBeen(id, { answer, passed }, words) {
  const cut = document.getElementById(id);
  if (!cut?.matches(".step:not(.whole)")) return;
  if (passed && !cut.querySelector(".after")) drawAfter(cut);
  cut.classList.toggle("been", passed && Boolean(cut.querySelector(".after")));
  const line = cut.querySelector("[data-been]") ?? document.createElement("p");
  line.dataset.been = "";
  put(line, answer ? fill(words.been_read, answer) : passed ? words.been : "");
  cut.querySelector(".aim").after(line);
}

/** A cutting face is drawn once more with its cut made: as the next finds it, under its own caliper. */
function drawAfter(cut) {
  const drawn = [...document.querySelectorAll(".step:not(.read) > .picture .drawing:not(.after)")];
  const own = cut.querySelector(".drawing");
  const after = drawn[drawn.indexOf(own) + 1]?.cloneNode(true);
  if (!after) return;
  for (const hand of after.querySelectorAll(`${IN_HAND}, [clip-path]`)) hand.remove();
  const hand = own.querySelector(IN_HAND);
  if (hand) after.firstElementChild.after(hand.cloneNode(true));
  after.classList.add("after");
  own.after(after);
}

/** The line of a reading in the summary of the piece. */
export function showSummary(deck, id, answer, words) {
  const cell = deck.querySelector(`[data-of="${CSS.escape(id)}"] [data-value]`);
  if (!cell) return;
  cell.replaceChildren(...(answer ? ways(answer) : ["–"]));
  cell.dataset.value = answer?.limits ?? "";
  showUnread(deck, words.not_read);
  showBeyond(deck, words.beyond);
}

/** What was read, of two ways across both, the first way first. */
function ways({ word, text, shape, axis, other }) {
  const newest = span(word, `${text} ${shape}`);
  if (!other) return [newest];
  const both = [span("", other), newest];
  return axis === "A" ? both.reverse() : both;
}

/** On the last step what was not read, and the way to the first of it. */
function showUnread(deck, [head, one, many]) {
  const left = summary(deck).filter((row) => !row.querySelector("[data-value] span"));
  const roughed = deck.querySelector("[data-summary=roughed]");
  const line = lineOf(deck, "unread", roughed ? [] : left, (row) => row.cells[0].textContent);
  line?.prepend(`${head} `);
  line?.append(`. ${left.length > 1 ? many : one}`);
  if (line) document.querySelector("#done .say").before(line);
}

/** On the last step, before all else that is said of the piece, what lies beyond its limits: the farthest first. */
function showBeyond(deck, head) {
  const limits = (row) => Number(row.cells[1].dataset.value);
  const beyond = summary(deck).filter(limits).sort((a, b) => limits(b) - limits(a));
  const line = lineOf(deck, "beyond", beyond, (row) => [row.cells[0], ...row.cells[1].children].map((e) => e.textContent).join(" "));
  line?.prepend(`${head} `);
  if (line) document.querySelector("#done :is([data-unread], .say)").before(line);
}

const summary = (deck) => [...deck.querySelectorAll("[data-of]")];

/** Some rows of the summary by name, and the way to the first; null where there is none. */
function lineOf(deck, what, rows, name) {
  deck.querySelector(`[data-${what}]`)?.remove();
  if (!rows.length) return null;
  const link = document.createElement("a");
  link.textContent = rows.slice(0, NAMED).map(name).join("; ") + (rows.length > NAMED ? " and more" : "");
  link.href = `#${rows[0].dataset.of}/read`;
  const line = document.createElement("p");
  line.className = "caution";
  line.dataset[what] = "";
  line.append(link);
  return line;
}

/** The last readings of the piece in hand, newest first: where, and what was typed. */
export function latestIn(deck) {
  return [...deck.querySelectorAll("[data-latest] li")].map((li) => [li.firstChild.data.replace(/: $/, ""), li.querySelector("b").textContent]);
}

/** Show the last few of these; one that was read again since says so. */
export function showLatest(deck, latest, words) {
  const place = deck.querySelector("[data-latest]");
  place.hidden = !latest.length;
  place.querySelector("ul").replaceChildren(
    ...latest.slice(0, 6).map(([where, typed], i) => {
      const line = document.createElement("li");
      const figure = document.createElement("b");
      put(figure, typed);
      line.append(`${where}: `, figure);
      if (latest.findIndex(([one]) => one === where) < i) line.append(words.before);
      return line;
    }),
  );
}

/** Mark the step one is at in the list of all. */
export function showHere(deck, anchor, text) {
  const list = deck.querySelector(".steps-list");
  list.querySelector("[aria-current]")?.lastElementChild.remove();
  list.querySelector("[aria-current]")?.removeAttribute("aria-current");
  const line = anchor && list.querySelector(`a[href="#${CSS.escape(anchor)}"]`);
  if (!line) return;
  line.setAttribute("aria-current", "step");
  line.append(span("here", text));
}

/** How much waits on this phone, and why. */
export function showQueue(line, { kind, reply, waiting }, words) {
  const count = waiting.length;
  const text = count > 1 ? fill(words.queue.many, { count }) : count ? words.queue.one : "";
  const why = kind === "later" ? (reply?.unpaired ? words.unpaired : count ? words.later_kept : words.later) : "";
  line.textContent = kind === "put" ? "" : `${text} ${why}`.trim();
}

const asDrawn = []; // how to put back what stood where an aim stands now

/** What drifts, on the first and last step of a piece; what to aim for instead, where it counts. */
export function showDrift(deck, drift) {
  for (const line of deck.querySelectorAll("[data-drift]")) {
    line.hidden = !drift?.line;
    put(line, drift?.line ?? "");
  }
  for (const line of deck.querySelectorAll("[data-instead]")) line.remove();
  for (const putBack of asDrawn.splice(0)) putBack();
  for (const aim of drift?.aims ?? []) {
    for (const section of deck.querySelectorAll(`[data-step="${CSS.escape(aim.at)}"]`)) {
      if (aim.to || section.dataset.phase !== "sizing") showAim(section, aim);
    }
  }
}

/** One size to cut to on a face: the one aimed for, the drawn one in the line under it. */
function showAim(section, { say: text, to, put: figures }) {
  const line = document.createElement("p");
  line.className = "caution";
  line.dataset.instead = "";
  put(line, text);
  (section.querySelector(".set-to") ?? section.querySelector(".aim")).after(line);
  for (const [where, figure] of Object.entries(figures)) {
    const place = section.querySelector(where);
    if (!place) continue;
    const before = [...place.childNodes];
    put(place, figure);
    asDrawn.push(() => place.replaceChildren(...before));
  }
  const { target, finish } = section.dataset;
  if (!to || !target) return;
  Object.assign(section.dataset, { target: to, finish: to, aimed: "" });
  asDrawn.push(() => {
    Object.assign(section.dataset, { target, finish });
    delete section.dataset.aimed;
  });
}

function span(name, text) {
  const found = document.createElement("span");
  if (name) found.className = name;
  return put(found, text);
}

function button(name, text) {
  const found = document.createElement("button");
  found.type = "button";
  found.className = name;
  found.textContent = text;
  return found;
}

/** A dropped caliper is marked where it is used until it was checked; the sheet says what that means. */
export function showDoubts(deck, doubts, words) {
  for (const line of deck.querySelectorAll("[data-doubt]")) line.remove();
  for (const chip of deck.querySelectorAll(".caliper")) {
    const letter = chip.querySelector("b").textContent;
    chip.classList.toggle("doubted", letter in doubts);
    if (letter in doubts) chip.closest(".set-to").after(doubt(fill(words.check_first, { letter })));
  }
  for (const [letter, text] of Object.entries(doubts)) {
    deck.querySelector(`.more [value="caliper_dropped ${letter}"]`)?.parentElement.after(doubt(text));
  }
}

function doubt(text) {
  const line = put(document.createElement("p"), text);
  line.className = "caution";
  line.dataset.doubt = "";
  return line;
}

const FIRST = ["calipers", "spares"]; // lines of the first face, not of a step

/** Show the lines that came back: the first face's own, and each step's. */
export function showLines(deck, lines) {
  for (const line of deck.querySelectorAll("[data-line]")) line.remove();
  for (const [name, text] of Object.entries(lines)) {
    const face = FIRST.includes(name) ? deck.querySelector(".step") : document.getElementById(name);
    const line = document.createElement("p");
    line.dataset.line = "";
    put(line, text);
    if (name === "spares") face?.querySelector(".checks, .say")?.before(line);
    else if (name === "calipers") (face?.querySelector("[data-drift]") ?? face?.querySelector(".say"))?.after(line);
    else face?.querySelector(".say")?.before(line);
  }
}
