/**
 * What was played, for the check-in. Pure: a course in, one result out.
 *
 * The check-in finds it in `sessionStorage` under `filar.session`. What is missing or empty there has not
 * been said; it never means "fine".
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./course.js").Course} Course
 * @typedef {import("./course.js").Played} Played
 * @typedef {import("./course.js").Mark} Mark
 * @typedef {"low"|"middle"|"high"} Register
 * @typedef {"all"|"top"|"stopped"} Stopped
 * @typedef {"sound"|"tired"|"time"} Because
 * @typedef {{student: string, block: string, version: number, day: string, finished: 0|1,
 *   completed: number, seconds: number, notes_played: number, notes_planned: number,
 *   high_note: number|null, stopped_because: ""|Because, notes: Record<string, Mark>, start_note: number,
 *   trouble: Register[], finished_at: string}} Result
 *   day: the practice day, as a date; finished: 1 when all was played, or the student chose the top of an
 *   open walk; completed: the share of the notes played, 0 to 1; seconds: from the first attack to the last
 *   release, without pauses; high_note: written MIDI number of the last good note; notes: what was said
 *   of each written note in the rests; trouble: where that was "not yet", for the check-in to propose
 */

const SAME_TIME = 1e-6;
const MIDDLE_HALF_STEPS = 6;

/**
 * The result of a session. A note counts once it was held to its end, however often it was begun. The
 * top the student chose ends an open walk, so it completes it.
 * @param {Session} session @param {Course} course @param {import("./position.js").Step[]} held notes held to
 *   their end @param {Stopped} stopped @param {number|null} highNote written MIDI number @param {Date} moment
 * @returns {Result}
 */
export function resultOf(session, course, held, stopped, highNote, moment) {
  const planned = session.steps.length;
  const completed = stopped === "top" ? 1 : Math.round((held.length / planned) * 1000) / 1000;
  const notes = notesSaid(session, course.marks);
  return {
    student: session.student,
    block: session.block,
    version: session.version,
    day: session.day,
    finished: completed === 1 ? 1 : 0,
    completed,
    seconds: Math.round(secondsPlayed(session, course.played) * 1000) / 1000,
    notes_played: held.length,
    notes_planned: planned,
    high_note: highNote,
    stopped_because: "",
    notes,
    start_note: session.start_note,
    trouble: troubleFrom(notes, session.start_note),
    finished_at: moment.toISOString(),
  };
}

/** What was said of each written note. One that comes twice in the walk is "not yet" if it was so once. */
function notesSaid(/** @type {Session} */ session, /** @type {Record<string, Mark>} */ marks) {
  /** @type {Record<string, Mark>} */
  const notes = {};
  for (const [at, said] of Object.entries(marks)) {
    const { written } = session.steps[Number(at)];
    if (notes[written] !== "not yet") notes[written] = said;
  }
  return notes;
}

/**
 * The registers in which at least one note was not yet good: low is more than six half steps under the
 * start note, high more than six above. A proposal, which the student sees and may change.
 * @param {Record<string, Mark>} notes by written MIDI number @param {number} start written MIDI number
 * @returns {Register[]}
 */
export function troubleFrom(notes, start) {
  const hard = Object.entries(notes).filter(([, said]) => said === "not yet").map(([written]) => Number(written) - start);
  const found = {
    low: hard.some((steps) => steps < -MIDDLE_HALF_STEPS),
    middle: hard.some((steps) => Math.abs(steps) <= MIDDLE_HALF_STEPS),
    high: hard.some((steps) => steps > MIDDLE_HALF_STEPS),
  };
  return /** @type {const} */ (["low", "middle", "high"]).filter((register) => found[register]);
}

/**
 * Seconds from the first attack to the last release, pauses left out.
 * @param {Session} session @param {Played[]} played
 */
export function secondsPlayed(session, played) {
  const sounding = [...played];
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

/** @param {Session} session @param {Played} stretch */
function lastSound(session, stretch) {
  const begun = session.steps.filter((step) => step.start < stretch.to - SAME_TIME);
  if (begun.length === 0) return stretch.from;
  const step = begun[begun.length - 1];
  return Math.min(stretch.to, step.start + step.hold);
}
