// What a figure means, as far as this phone can tell. The laptop's own answer replaces it.

const INCH_MM = 25.4;
const LONGEST_MM = 10000;
const ON_A_RULE = ["2", "4", "8", "16", "32", "64"];
const EPSILON_MM = 1e-6;
const TRY_OVER_MM = 0.5;
const FINISH_CUT_MM = 0.2;
const NEAR = 0.5;
const BLEND_UP_TO = 2;
const ODD_UP_TO = 4;
const SURPRISING_MM = 3;
const SURPRISING_SHARE = 0.25;
const LOTS = { mark_odd: "odd", keep_spare: "spare", by_eye: "spare", mend_tenon: "mend", oval_stop: "mend", oval_low: "mend" };
const SHAPES = { over: "▲", within: "●", under: "▼" };

/** Millimetres of a plain figure, or null for what only the laptop may read. */
export function parse(text, unit) {
  const found = text
    .trim()
    .match(/^(?:([0-9]+)[ -])?([0-9]+)\/([0-9]+)$|^([0-9]*[.,]?[0-9]+|[0-9]+[.,])$/);
  if (!found || /^[1-9][0-9]{0,2},[0-9]{3}$/.test(found[0])) return null;
  const [, whole, over, under, plain] = found;
  if (plain === undefined && (unit === "mm" || !ON_A_RULE.includes(under) || Number(over) >= Number(under))) return null;
  const figure = plain === undefined ? Number(whole ?? 0) + Number(over) / Number(under) : Number(plain.replace(",", "."));
  const mm = figure * (unit === "mm" ? 1 : INCH_MM);
  return mm > LONGEST_MM ? null : mm;
}

/** Rounded as a person rounds the decimals they see: a half goes up. */
function rounded(value, places) {
  const scale = 10 ** places;
  return Math.round(Number((value * scale).toFixed(6))) / scale;
}

/** A length in the maker's unit, rounded to its step. */
export function format(mm, unit, fine) {
  const places = unit !== "mm" ? 3 : fine ? 2 : 1;
  if (unit === "mm") return rounded(mm, places).toFixed(places);
  if (unit === "in" || fine) return rounded(mm / INCH_MM, places).toFixed(places);
  const parts = unit === "in/16" ? 16 : 64;
  let count = rounded((mm / INCH_MM) * parts, 0);
  let under = parts;
  while (count % 2 === 0 && under > 1) {
    count /= 2;
    under /= 2;
  }
  const whole = Math.floor(count / under);
  const rest = count - whole * under;
  return rest ? `${whole || ""} ${rest}\u2044${under}`.trim() : `${whole}`;
}

/** Whether a figure is so far off that it is asked about before it is taken. */
export function surprising(valueMm, { targetMm, reads }) {
  const off = Math.abs(valueMm - targetMm);
  return beyond(off, SURPRISING_MM) || (reads === "diameter" && beyond(off, SURPRISING_SHARE * targetMm));
}

/**
 * Over, within or under, and what one does about it: the laptop's own few rules once more.
 * `firstMm` is what a tenon had the first way across, where this is the second.
 */
export function judge(valueMm, { targetMm, finishMm, toleranceMm, kind, reads, phase, tried = true, blends = true }, firstMm = null) {
  const off = valueMm - targetMm;
  const word = beyond(off, toleranceMm) ? "over" : beyond(-off, toleranceMm) ? "under" : "within";
  if (reads === "position") {
    return { word, off, side: Math.abs(off), left: 0, action: forPosition(word, Math.abs(off), toleranceMm, phase) };
  }
  const overFinish = valueMm - finishMm;
  const alone =
    word === "over"
      ? kind !== "tenon" || !tried || beyond(off, TRY_OVER_MM) ? "cut_on" : phase === "sizing" ? "try_it" : "try_final"
      : word === "within"
        ? beyond(targetMm, finishMm) ? "stop" : "next"
        : whenUnder(overFinish, toleranceMm, kind, blends);
  const two = firstMm !== null;
  const action = (two && kind === "tenon" && secondWay(valueMm, firstMm, targetMm, [finishMm - toleranceMm, targetMm + toleranceMm])) || alone;
  const oval = two ? Math.abs(valueMm - firstMm) : 0;
  return { word, off, side: Math.abs(off) / 2, left: Math.max(0, overFinish / 2), action, first: firstMm ?? 0, oval };
}

/** The verdict in words, as the laptop would say it. */
export function provisional(valueMm, wanted, words, figure, firstMm = null) {
  const { word, off, side, left, action, first = 0, oval = 0 } = judge(valueMm, wanted, firstMm);
  const values = { side: figure(side), off: figure(Math.abs(off)), left: figure(left), first: figure(first), oval: figure(oval) };
  const filled = (text) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const near = word === "within" && beyond(Math.abs(off), NEAR * wanted.toleranceMm) && values.off !== figure(0);
  const told = near ? (off > 0 ? "near_over" : "near_under") : word;
  const key = wanted.reads === "position" ? `position_${told}` : told;
  return { word, shape: SHAPES[word], say: filled(words.verdict[action] ?? words.verdict[key]), action: filled(words.action[action]), lot: LOTS[action] };
}

const beyond = (mm, limitMm) => mm > limitMm + EPSILON_MM;

function whenUnder(overFinish, toleranceMm, kind, blends) {
  if (beyond(overFinish, FINISH_CUT_MM)) return "go_lighter";
  if (!beyond(-overFinish, toleranceMm)) return "leave_it";
  if (kind === "tenon") return "mend_tenon";
  if (!beyond(-overFinish, BLEND_UP_TO * toleranceMm)) return blends ? "blend" : "by_eye";
  return beyond(-overFinish, ODD_UP_TO * toleranceMm) ? "keep_spare" : "mark_odd";
}

/** What two ways across mean that one alone does not. */
function secondWay(valueMm, firstMm, targetMm, [leastMm, mostMm]) {
  const [small, large] = [Math.min(valueMm, firstMm), Math.max(valueMm, firstMm)];
  if (beyond(leastMm, small)) {
    if (beyond(large, mostMm)) return "oval_stop";
    if (beyond(leastMm, large)) return null;
    if (!beyond(leastMm, (small + large) / 2)) return "oval_low";
    return valueMm === large ? "other_again" : null;
  }
  if (!beyond(large, mostMm) || beyond(small, mostMm)) return null;
  if (valueMm === small) return "other_again";
  return beyond(leastMm, small - (large - targetMm)) ? "oval_trim" : null;
}

function forPosition(word, off, toleranceMm, phase) {
  if (word === "within") return "next";
  if (beyond(off, Math.max(SURPRISING_MM, ODD_UP_TO * toleranceMm))) return "measure_again";
  if (phase === "sizing") return "move_line";
  return beyond(off, BLEND_UP_TO * toleranceMm) ? "keep_spare" : "mark_odd";
}
