// Every state a table was in, back and forth, for as long as the page is open.

/**
 * A memory of states. `now()` gives the state as it stands, `put(state)` brings one back.
 * Typing on in one place counts as one change until another place is typed in or it rests.
 */
export function memory(now, put, changed) {
  const back = [];
  const forth = [];
  let before = now();
  let last = { place: null, at: 0 };

  function step(from, to) {
    if (!from.length) return false;
    to.push(now());
    before = from.pop();
    last = { place: null, at: 0 };
    put(before);
    changed(back.length > 0, forth.length > 0);
    return true;
  }

  return {
    /** Remember the state before a change at `place`, which has happened by now. */
    note(place = null) {
      const state = now();
      if (JSON.stringify(state) === JSON.stringify(before)) return;
      const goesOn = place !== null && place === last.place && Date.now() - last.at < 1500;
      if (!goesOn) back.push(before);
      forth.length = 0;
      last = { place, at: Date.now() };
      before = state;
      changed(true, false);
    },
    undo: () => step(back, forth),
    redo: () => step(forth, back),
  };
}
