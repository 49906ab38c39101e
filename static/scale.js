// @ts-check
// A screen that was measured with calipers: sizes in rem come out in true millimetres.

const NOMINAL_MM_PER_PX = 0.159; // what sizes are reckoned with where nothing was measured
const LARGEST_PHONE_MM_PER_PX = 0.19; // above it, no phone: text is large enough as it is
const MOST_PERCENT = 150;

/** Size the page's text for this screen, if it was measured. */
export function applyScale() {
  const found = document.cookie.match(/(?:^|; )benchside_scale=([\d.]+)/);
  document.documentElement.style.fontSize = found ? textSize(Number(found[1])) : "";
}

/**
 * How large text has to be on a screen, as a share of the browser's own size, so that the phone's
 * text setting still counts. Empty: as it is.
 * @param {number} mmPerPx mm to a CSS pixel
 */
export function textSize(mmPerPx) {
  if (!(mmPerPx >= 0.08 && mmPerPx <= LARGEST_PHONE_MM_PER_PX)) return "";
  return `${Math.min((100 * NOMINAL_MM_PER_PX) / mmPerPx, MOST_PERCENT).toFixed(2)}%`;
}
