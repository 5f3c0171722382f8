/**
 * What was played, for the check-in. Pure: stretches of playing in, one result out.
 *
 * @typedef {{from: number, to: number}} Stretch  seconds of the session, played without a pause
 * @typedef {import("./position.js").Session} Session
 * @typedef {"all"|"top"|"stopped"} Stopped
 * @typedef {{student: string, block: string, version: number, day: string, seconds: number, notes_played: number,
 *   notes_planned: number, completed: number, last_good_note: number|null, stopped: Stopped,
 *   finished_at: string}} Result
 */

const SAME_TIME = 1e-6;

/**
 * The result of a session. A note counts once it was held to its end, however often it was begun. The
 * top the student chose ends an open walk, so it completes it.
 * @param {Session} session @param {Stretch[]} stretches @param {Stopped} stopped
 * @param {number|null} lastGoodNote written MIDI number @param {Date} moment @returns {Result}
 */
export function resultOf(session, stretches, stopped, lastGoodNote, moment) {
  const played = session.steps.filter((step) => stretches.some((stretch) => endsIn(step, stretch))).length;
  const planned = session.steps.length;
  return {
    student: session.student,
    block: session.block,
    version: session.version,
    day: session.day,
    seconds: Math.round(secondsPlayed(session, stretches) * 1000) / 1000,
    notes_played: played,
    notes_planned: planned,
    completed: stopped === "top" ? 1 : Math.round((played / planned) * 1000) / 1000,
    last_good_note: lastGoodNote,
    stopped,
    finished_at: moment.toISOString(),
  };
}

/**
 * Seconds from the first attack to the last release, pauses left out.
 * @param {Session} session @param {Stretch[]} stretches
 */
export function secondsPlayed(session, stretches) {
  const sounding = [...stretches];
  while (sounding.length > 0) {
    const last = sounding[sounding.length - 1];
    const to = lastSound(session, last);
    if (to > last.from + SAME_TIME) {
      sounding[sounding.length - 1] = { from: last.from, to };
      break;
    }
    sounding.pop();
  }
  return sounding.reduce((sum, stretch) => sum + stretch.to - stretch.from, 0);
}

/** @param {Session} session @param {Stretch} stretch */
function lastSound(session, stretch) {
  const begun = session.steps.filter((step) => step.start < stretch.to - SAME_TIME);
  if (begun.length === 0) return stretch.from;
  const step = begun[begun.length - 1];
  return Math.min(stretch.to, step.start + step.hold);
}

/** @param {import("./position.js").Step} step @param {Stretch} stretch */
function endsIn(step, stretch) {
  const end = step.start + step.hold;
  return end > stretch.from + SAME_TIME && end < stretch.to + SAME_TIME;
}
