/**
 * The beat for eye and hand. Pure, but for the one call that makes a phone buzz.
 *
 * A flash is one change to light and one back. More than three of them in a second can bring on a seizure
 * (WCAG 2.2, success criterion 2.3.1), so above 180 counts a minute nothing flashes: a mark moves instead.
 *
 * @typedef {import("./position.js").Position} Position
 * @typedef {{lit: "on"|"off"|"still", side: "left"|"right"|"none"}} Beat
 */

const FASTEST_FLASH = 180;
/** Of each count the first part is lit; never longer than this many seconds. */
const LIT_SHARE = 0.4;
const LIT_SECONDS = 0.2;
const BUZZ_MILLISECONDS = { accent: 60, count: 15 };

/**
 * What the beat looks like at a place of the session.
 * @param {Position} place @param {number} tempo counts a minute @returns {Beat}
 */
export function beatAt(place, tempo) {
  if (place.phase === "done") return { lit: "still", side: "none" };
  if (tempo > FASTEST_FLASH) return { lit: "still", side: place.count % 2 === 1 ? "left" : "right" };
  const gone = place.fraction * place.counts - (place.count - 1);
  const lit = gone < Math.min(LIT_SHARE, (LIT_SECONDS * tempo) / 60);
  return { lit: lit ? "on" : "off", side: "none" };
}

/** True where the phone has a motor to buzz with. */
export function canBuzz() {
  return typeof navigator.vibrate === "function";
}

/** Buzz for a count that has just begun; the first of a hold or a rest is felt longest. @param {Position} place */
export function buzz(place) {
  navigator.vibrate(place.count === 1 && !place.leading ? BUZZ_MILLISECONDS.accent : BUZZ_MILLISECONDS.count);
}
