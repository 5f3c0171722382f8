/**
 * Where am I at this second? Pure: nothing here reads a clock, makes a sound or touches the page.
 *
 * Seconds run from the first attack, so the first count-in lies before 0. A count lasts 60 / tempo
 * seconds. The order and the times of the notes are looked up in the session, never worked out.
 *
 * A stretch is playing without a pause. It begins on the attack of a note, at `from`, and before that
 * come `lead` counts: the count-in, or where the rest before the note still has to be taken, that rest.
 *
 * @typedef {{index: number, written: number, label: string, spoken: string, concert_label: string,
 *   concert_spoken: string, fingering: string, fingering_words: string, hint: string,
 *   part: "down"|"back"|"up", dynamic: string, dynamic_words: string, start: number, hold: number,
 *   rest: number}} Step
 * @typedef {{student: string, name: string, block: string, version: number, day: string,
 *   hold: number, rest: number, tempo: number, count_in: number, start_note: number,
 *   has_concert: boolean, top_is_open: boolean, slide?: boolean, dynamic_today: string, check_in_url: string,
 *   hurt_url: string, steps: Step[]}} Session
 * @typedef {{from: number, lead: number}} Stretch
 * @typedef {"count-in"|"hold"|"rest"|"done"} Phase
 * @typedef {{phase: Phase, index: number, coming: number|null, count: number, counts: number,
 *   left: number, fraction: number, breathe: boolean, leading: boolean}} Position
 *   index: the note held, in its rest the note just played, in a lead the note to come;
 *   coming: the note the next attack belongs to; left: counts still to come, this one among them;
 *   fraction: the share of this hold, rest or lead gone by, 0 to 1; leading: before a stretch's attack
 * @typedef {{seconds: number, kind: "count-in"|"attack"|"hold"|"rest"|"release"}} Click
 */

/** A microsecond, less than one audio sample: two times nearer than this are the same time. */
const SAME_TIME = 1e-6;
const BREATH_COUNTS = 2;

/** The length of one count in seconds. @param {Session} session */
export function countSeconds(session) {
  return 60 / session.tempo;
}

/** The second at which a step's note ends. @param {Step} step */
export function holdEnd(step) {
  return step.start + step.hold;
}

/** From the first attack to the last release; the rest after it does not count. @param {Session} session */
export function sessionSeconds(session) {
  return holdEnd(session.steps[session.steps.length - 1]);
}

/** The step whose hold or rest holds this second: the first one before 0, the last one after the end. */
export function stepAt(/** @type {Session} */ session, /** @type {number} */ seconds) {
  const later = session.steps.findIndex((step) => step.start > seconds + SAME_TIME);
  if (later === -1) return session.steps[session.steps.length - 1];
  return session.steps[Math.max(0, later - 1)];
}

/**
 * Where the session stands. Without a stretch: in the one that begins with the first note.
 * @param {Session} session @param {number} seconds @param {Stretch} [stretch] @returns {Position}
 */
export function positionAt(session, seconds, stretch = { from: 0, lead: session.count_in }) {
  if (seconds < stretch.from - SAME_TIME) return leadAt(session, seconds, stretch);
  const step = stepAt(session, seconds);
  const coming = step.index + 1 < session.steps.length ? step.index + 1 : null;
  const known = { index: step.index, coming, leading: false };
  if (seconds > sessionSeconds(session) - SAME_TIME) {
    const counts = countsIn(session, step.hold);
    return { ...known, phase: "done", count: counts, counts, left: 0, fraction: 1, breathe: false };
  }
  if (seconds < holdEnd(step) - SAME_TIME) {
    const place = placeIn(session, seconds - step.start, step.hold);
    return { ...known, phase: "hold", ...place, breathe: false };
  }
  const place = placeIn(session, seconds - holdEnd(step), step.rest);
  return { ...known, phase: "rest", ...place, breathe: place.left <= BREATH_COUNTS };
}

/** Before the attack: more counts than a count-in has are a rest. @returns {Position} */
function leadAt(/** @type {Session} */ session, /** @type {number} */ seconds, /** @type {Stretch} */ stretch) {
  const length = stretch.lead * countSeconds(session);
  const place = placeIn(session, Math.max(0, length - (stretch.from - seconds)), length);
  const { index } = stepAt(session, stretch.from);
  const phase = stretch.lead > session.count_in ? "rest" : "count-in";
  return { phase, index, coming: index, leading: true, ...place, breathe: place.left <= BREATH_COUNTS };
}

/** @param {Session} session @param {number} gone @param {number} length */
function placeIn(session, gone, length) {
  const counts = countsIn(session, length);
  const count = Math.min(counts, Math.floor((gone + SAME_TIME) / countSeconds(session)) + 1);
  const fraction = Math.min(1, Math.max(0, gone / length));
  return { count, counts, left: counts - count + 1, fraction };
}

/** @param {Session} session @param {number} length */
function countsIn(session, length) {
  return Math.round(length / countSeconds(session));
}

/**
 * Every click of a stretch in order, to the end of the session. Each time is worked out from its own
 * note's start, so no rounding error adds up.
 * @param {Session} session @param {Stretch} [stretch] @returns {Click[]}
 */
export function clicksFrom(session, { from, lead } = { from: 0, lead: session.count_in }) {
  const count = countSeconds(session);
  const kind = lead > session.count_in ? "rest" : "count-in";
  /** @type {Click[]} */
  const clicks = Array.from({ length: lead }, (_, at) => ({ seconds: from - (lead - at) * count, kind }));
  const end = sessionSeconds(session);
  for (const step of session.steps) {
    if (step.start < from - SAME_TIME) continue;
    for (let at = 0; at < countsIn(session, step.hold); at += 1) {
      clicks.push({ seconds: step.start + at * count, kind: at === 0 ? "attack" : "hold" });
    }
    if (holdEnd(step) > end - SAME_TIME) continue;
    for (let at = 0; at < countsIn(session, step.rest); at += 1) {
      clicks.push({ seconds: holdEnd(step) + at * count, kind: at === 0 ? "release" : "rest" });
    }
  }
  clicks.push({ seconds: end, kind: "release" });
  return clicks;
}
