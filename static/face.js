// What the turn page shows: verdicts, the state of the big button, what waits, what came back.

/** Put named values into a sentence. */
export const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");

/** The reading field of a step. */
export const field = (section) => section.querySelector(".entry input");

/** Say one thing where the verdict stands. */
export function say(section, text) {
  const place = section.querySelector("[data-said]") ?? section.querySelector("[data-queue]");
  if (place) place.textContent = text;
}

/** Show what stands for a step, or that nothing does; `sayLot` keeps what becomes of the piece. */
export function showAnswer(section, answer, words, sayLot) {
  const place = section.querySelector("[data-said]");
  section.querySelector("[data-wrong]").hidden = !answer;
  if (!answer) return place.replaceChildren(span("unsaved", words.stopped));
  const axis = words.axis[answer.axis] ? ` (${words.axis[answer.axis]})` : "";
  const word = span(`word ${answer.word}`, "");
  const shape = span("mark-shape", answer.shape);
  shape.setAttribute("aria-hidden", "true");
  word.append(shape, `${answer.text}${axis}: ${answer.say}`);
  const more = [
    answer.action,
    answer.unsaved ? words.unsaved : "",
    answer.earlier ? fill(words.earlier, { text: answer.earlier }) : "",
    answer.axis === "A" && answer.word === "within" ? words.quarter : "",
  ];
  place.replaceChildren(word, ...more.filter(Boolean).flatMap((text) => [" ", span("", text)]));
  if (answer.lot) {
    const lot = button("second", words.lot_do[answer.lot]);
    lot.addEventListener("click", async () => {
      if (await sayLot(section, answer.lot)) lot.textContent = words.kept_mark;
    });
    place.append(lot);
  }
}

/** The one big button: take what is typed, or go on. */
export function showButton(section, { asking, answered, words }) {
  const go = section.querySelector("[data-go]");
  const text = field(section).value.trim();
  go.textContent = text
    ? fill(asking === text ? words.take_sure : words.take_it, { text })
    : answered ? words.next : words.skip;
  go.classList.toggle("quiet", !text && !answered);
}

/** The line of a reading in the summary of the piece. */
export function showSummary(deck, id, answer) {
  const cell = deck.querySelector(`[data-of="${CSS.escape(id)}"] [data-value]`);
  cell?.replaceChildren(answer ? span(answer.word, `${answer.text} ${answer.shape}`) : "–");
}

/** How much waits on this phone, and why. */
export function showQueue(deck, { kind, reply, waiting }, words) {
  const count = waiting.length;
  const text = count === 1 ? words.queue.one : fill(words.queue.many, { count });
  const why = kind === "later" ? (reply?.unpaired ? words.unpaired : words.later) : "";
  for (const line of deck.querySelectorAll("[data-queue]")) {
    line.textContent = count && kind !== "put" ? `${text} ${why}`.trim() : "";
  }
}

/** What the laptop would not take, each with its reason, until it is put aside. */
export function showHandedBack(place, refused, words, putAside) {
  place.hidden = !refused.length;
  place.replaceChildren(
    ...refused.map(({ order, label, reply }) => {
      const p = document.createElement("p");
      const aside = button("second", words.aside);
      aside.addEventListener("click", () => putAside(order));
      p.append(`${fill(words.not_taken, { label })} ${reply.message} ${reply.hint ?? ""}`, aside);
      return p;
    }),
  );
}

/** What drifts, on the first and last step of a piece; what to aim for instead, where it counts. */
export function showDrift(deck, drift) {
  for (const line of deck.querySelectorAll("[data-drift]")) {
    line.hidden = !drift;
    line.textContent = drift?.line ?? "";
  }
  for (const line of deck.querySelectorAll("[data-instead]")) line.remove();
  for (const id of drift?.at ?? []) {
    for (const section of deck.querySelectorAll(`[data-step="${CSS.escape(id)}"]:not([data-phase="sizing"])`)) {
      const line = document.createElement("p");
      line.className = "caution";
      line.dataset.instead = "";
      line.textContent = drift.aim;
      section.querySelector(".aim").after(line);
    }
  }
}

function span(name, text) {
  const found = document.createElement("span");
  if (name) found.className = name;
  found.textContent = text;
  return found;
}

function button(name, text) {
  const found = document.createElement("button");
  found.type = "button";
  found.className = name;
  found.textContent = text;
  return found;
}
