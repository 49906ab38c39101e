// @ts-check
// A screen that was measured with calipers: sizes in rem come out in true millimetres.

const NOMINAL_MM_PER_PX = 0.159; // what sizes are reckoned with where nothing was measured
const LARGEST_PHONE_MM_PER_PX = 0.19; // above it, no phone: text is large enough as it is

/**
 * Size the page's text for this screen, if it was measured.
 * @param {number} [measured] mm to a CSS pixel; left out, what this device remembers
 */
export function applyScale(measured) {
  const perPx = measured ?? remembered();
  const fits = perPx >= 0.08 && perPx <= LARGEST_PHONE_MM_PER_PX;
  // A share of the browser's own size, so that the phone's text setting still counts.
  const share = fits ? (100 * NOMINAL_MM_PER_PX) / perPx : 0;
  document.documentElement.style.fontSize = share ? `${Math.min(share, 150).toFixed(2)}%` : "";
}

function remembered() {
  const found = document.cookie.match(/(?:^|; )benchside_scale=([\d.]+)/);
  return found ? Number(found[1]) : NaN;
}
