// What the laptop would not take: one panel with its reasons, and one button that puts it all aside.
// Loaded only where there is such a thing.
import { putAside } from "./outbox.js";
import all from "./words.js";

const words = all.script;
const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");

/** Show what came back, by its reasons, until it is put aside. */
export function showHandedBack(place, back) {
  place.hidden = !back.length;
  if (!back.length) return place.replaceChildren();
  const aside = element("button", back.length > 1 ? words.aside_all : words.aside);
  aside.type = "button";
  aside.className = "button second";
  aside.addEventListener("click", () => putAside(back));
  place.replaceChildren(...byReason(back).flatMap(told), ...otherBook(back), aside);
}

/** What was put aside, newest first, with the day it was tapped. */
export function showAside(place, items) {
  place.hidden = !items.length;
  const lines = items.map(({ label, fields }) => element("li", `${dayOf(fields.taken_at)}: ${label}`));
  place.querySelector("ul").replaceChildren(...lines.reverse());
}

const dayOf = (at) => new Date(at).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });

const reasonOf = ({ reply }) => `${reply.message} ${reply.hint ?? ""}`.trim();

function byReason(back) {
  const reasons = [...new Set(back.map(reasonOf))];
  return reasons.map((reason) => back.filter((item) => reasonOf(item) === reason));
}

function told(items) {
  const [{ label, reply }] = items;
  if (items.length === 1) return [element("p", `${fill(words.not_taken, { label })} ${reasonOf(items[0])}`)];
  const pieces = [...new Set(items.map(pieceOf))];
  const one = pieces.length === 1;
  const other = reply.field === "database";
  const head = fill(one ? words.not_taken_of : words.not_taken_many, { count: items.length, piece: pieces[0] });
  const list = element("ul");
  list.append(...items.map((item) => element("li", one ? item.label.replace(/^Piece \d+, /, "") : item.label)));
  const folded = element("details");
  const why = other ? words.other_book : reasonOf(items[0]);
  const then = element("p", `${other ? words.open_it : ""} ${words.aside_where}`.trim());
  if (document.querySelector(".deck")) { // at the lathe there is room for one line
    folded.append(element("summary", `${head}.`), element("p", why), list, then);
    return [folded];
  }
  folded.append(element("summary", words.see_them), list, then);
  return [element("p", `${head}. ${why}`), folded];
}

const pieceOf = ({ url }) => url.match(/\/pieces\/(\d+)\//)?.[1];

/** A page made from that other book goes on being refused: the way to the one that is open. */
function otherBook(back) {
  const { database } = document.documentElement.dataset;
  if (!back.some(({ fields, reply }) => reply.field === "database" && fields.database === database)) return [];
  const link = element("a", words.to_open_book);
  link.className = "button second";
  link.href = "/";
  return [element("p", words.page_of_other_book), link];
}

function element(name, text = "") {
  return Object.assign(document.createElement(name), { textContent: text });
}
