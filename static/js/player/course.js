/**
 * The course of one practice of a session: what has been played, which note comes next, and how long to
 * wait before it. Pure: moments and readings come in, a new course goes out.
 *
 * Two rules stand here and nowhere else. A note is always played from its attack, never from its middle,
 * so no hold is longer than set. Between the end of one sound and the next attack lies at least the rest
 * the teacher set, whatever happened in between: a pause, a call, a hidden page, a page loaded anew.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./position.js").Step} Step
 * @typedef {import("./position.js").Stretch} Stretch
 * @typedef {{from: number, to: number}} Played  session seconds of one stretch, from its attack
 * @typedef {"good"|"not yet"} Mark
 * @typedef {{next: number, again: number, quietSince: number|null, played: Played[],
 *   marks: Record<string, Mark>}} Course
 *   next: the note that carrying on begins with; again: the note last begun; quietSince: the moment, in
 *   seconds of the steady clock, when the last sound ended, or null before the first; marks by step index
 * @typedef {{seconds: number, past: number, stretch: Stretch}} Reading
 *   the second reached, and for how many seconds more the clock has run since it stopped there
 */

const SAME_TIME = 1e-6;

/** Nothing played yet. @returns {Course} */
export function newCourse() {
  return { next: 0, again: 0, quietSince: null, played: [], marks: {} };
}

/**
 * The stretch that begins with a note: its lead is the count-in, or what is left of the rest if that is more.
 * @param {Session} session @param {Course} course @param {number} index @param {number} moment
 * @returns {{stretch: Stretch, course: Course}}
 */
export function begin(session, course, index, moment) {
  const step = session.steps[index];
  const waited = course.quietSince === null ? Infinity : moment - course.quietSince;
  const due = Math.ceil(((step.rest - waited) * session.tempo) / 60 - SAME_TIME);
  const stretch = { from: step.start, lead: Math.max(session.count_in, due) };
  return { stretch, course: { ...course, next: index, played: withRestTaken(session, course.played, index) } };
}

/** A rest that was waited through in a pause still belongs to the time of the session. */
function withRestTaken(/** @type {Session} */ session, /** @type {Played[]} */ played, /** @type {number} */ index) {
  const last = played[played.length - 1];
  const before = session.steps[index - 1];
  if (last === undefined || before === undefined) return played;
  const heldToTheEnd = last.to > before.start + before.hold - SAME_TIME;
  const { start } = session.steps[index];
  if (!heldToTheEnd || last.to > start + SAME_TIME) return played;
  return [...played.slice(0, -1), { from: last.from, to: start }];
}

/**
 * The course once playing stops at a reading: a hold that was broken off is played again from its attack,
 * after a hold that was finished the next note comes.
 * @param {Session} session @param {Course} course @param {Reading} reading @param {number} moment
 * @returns {Course}
 */
export function halt(session, course, { seconds, past, stretch }, moment) {
  const to = Math.min(seconds, endOf(session));
  if (to < stretch.from + SAME_TIME) {
    const index = session.steps.findIndex((step) => step.start > stretch.from - SAME_TIME);
    return { ...course, next: index };
  }
  const played = [...course.played, { from: stretch.from, to }];
  const step = session.steps.findLast((one) => one.start < to - SAME_TIME) ?? session.steps[0];
  const release = step.start + step.hold;
  const held = to > release - SAME_TIME;
  const last = session.steps.length - 1;
  return {
    ...course,
    played,
    again: step.index,
    next: held ? Math.min(step.index + 1, last) : step.index,
    quietSince: moment - past - (held ? to - release : 0),
  };
}

/** Every note held to its end, in the order of the walk. @param {Session} session @param {Played[]} played */
export function notesHeld(session, played) {
  return session.steps.filter((step) => {
    const release = step.start + step.hold;
    return played.some(({ from, to }) => release > from + SAME_TIME && release < to + SAME_TIME);
  });
}

/** Say how a note was; saying it anew replaces what was said. @returns {Course} */
export function mark(/** @type {Course} */ course, /** @type {number} */ index, /** @type {Mark} */ said) {
  return { ...course, marks: { ...course.marks, [index]: said } };
}

/**
 * The highest note held to its end on the way up to an open top and not called "not yet", or null.
 * @param {Session} session @param {Course} course @returns {Step|null}
 */
export function lastNoteUp(session, course) {
  if (!session.top_is_open) return null;
  return notesHeld(session, course.played).findLast((step) => step.part === "up" && course.marks[step.index] !== "not yet") ?? null;
}

/** @param {Session} session */
function endOf(session) {
  const last = session.steps[session.steps.length - 1];
  return last.start + last.hold;
}
