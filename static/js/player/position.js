/**
 * Where am I at this second? Pure: nothing here reads a clock, makes a sound or touches the page.
 *
 * Seconds run from the first attack, so the count-in lies before 0. A count lasts 60 / tempo
 * seconds. The order and the times of the notes are looked up in the session, never worked out.
 *
 * @typedef {{index: number, written: number, label: string, spoken: string, fingering: string,
 *   fingering_words: string, hint: string, part: "down"|"back"|"up", dynamic: string,
 *   dynamic_words: string, start: number, hold: number, rest: number}} Step
 * @typedef {{student: string, name: string, block: string, version: number, day: string,
 *   hold: number, rest: number, tempo: number, count_in: number, top_is_open: boolean,
 *   dynamic_today: string, check_in_url: string, hurt_url: string, steps: Step[]}} Session
 * @typedef {"count-in"|"hold"|"rest"|"done"} Phase
 * @typedef {{phase: Phase, index: number, count: number, counts: number, fraction: number,
 *   breathe: boolean}} Position  fraction: the share of this hold, rest or count-in gone by, 0 to 1
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
 * Where the session stands. `from` is the second at which this stretch of playing begins: all before
 * it is its count-in.
 * @param {Session} session @param {number} seconds @param {number} from @returns {Position}
 */
export function positionAt(session, seconds, from = 0) {
  if (seconds < from - SAME_TIME) return countIn(session, seconds, from);
  const step = stepAt(session, seconds);
  if (seconds > sessionSeconds(session) - SAME_TIME) {
    const counts = countsIn(session, step.hold);
    return { phase: "done", index: step.index, count: counts, counts, fraction: 1, breathe: false };
  }
  if (seconds < holdEnd(step) - SAME_TIME) {
    const place = placeIn(session, seconds - step.start, step.hold);
    return { phase: "hold", index: step.index, ...place, breathe: false };
  }
  const place = placeIn(session, seconds - holdEnd(step), step.rest);
  const breathe = place.count > place.counts - BREATH_COUNTS;
  return { phase: "rest", index: step.index, ...place, breathe };
}

/** @param {Session} session @param {number} seconds @param {number} from @returns {Position} */
function countIn(session, seconds, from) {
  const counts = session.count_in;
  const before = counts * countSeconds(session) - (from - seconds);
  const place = placeIn(session, Math.max(0, before), counts * countSeconds(session));
  const breathe = place.count > counts - BREATH_COUNTS;
  return { phase: "count-in", index: stepAt(session, from).index, ...place, breathe };
}

/** @param {Session} session @param {number} gone @param {number} length */
function placeIn(session, gone, length) {
  const counts = countsIn(session, length);
  const count = Math.min(counts, Math.floor((gone + SAME_TIME) / countSeconds(session)) + 1);
  return { count, counts, fraction: Math.min(1, Math.max(0, gone / length)) };
}

/** @param {Session} session @param {number} length */
function countsIn(session, length) {
  return Math.round(length / countSeconds(session));
}

/**
 * Every click of a stretch that begins at `from` after a count-in of `lead` counts, in order. Each time
 * is worked out from its own note's start, so no rounding error adds up over a session.
 * @param {Session} session @param {number} from @param {number} lead @returns {Click[]}
 */
export function clicksFrom(session, from = 0, lead = session.count_in) {
  const count = countSeconds(session);
  /** @type {Click[]} */
  const clicks = Array.from({ length: lead }, (_, at) => ({ seconds: from - (lead - at) * count, kind: "count-in" }));
  const end = sessionSeconds(session);
  for (const step of session.steps) {
    const held = countsIn(session, step.hold);
    for (let at = 0; at < held; at += 1) {
      clicks.push({ seconds: step.start + at * count, kind: at === 0 ? "attack" : "hold" });
    }
    if (holdEnd(step) > end - SAME_TIME) continue;
    for (let at = 0; at < countsIn(session, step.rest); at += 1) {
      clicks.push({ seconds: holdEnd(step) + at * count, kind: at === 0 ? "release" : "rest" });
    }
  }
  clicks.push({ seconds: end, kind: "release" });
  const coming = clicks.filter((click) => click.kind === "count-in" || click.seconds > from - SAME_TIME);
  // A hold that is taken up again begins with an attack too.
  if (coming[lead].kind === "hold") coming[lead].kind = "attack";
  return coming;
}

/**
 * Where "Carry on" goes after a pause at `seconds`: on the count that was running, in the same note.
 * A hold needs a new count-in. A rest goes on, or where too little of it is left for a count-in, a
 * whole count-in takes its place: a rest never gets shorter than the teacher set it.
 * @param {Session} session @param {number} seconds @param {number} from  where the stretch began
 * @returns {{from: number, lead: number}}
 */
export function carryOn(session, seconds, from = 0) {
  const place = positionAt(session, seconds, from);
  const step = session.steps[place.index];
  const count = countSeconds(session);
  const gone = (place.count - 1) * count;
  if (place.phase === "count-in") return { from, lead: session.count_in };
  if (place.phase === "hold") return { from: step.start + gone, lead: session.count_in };
  if (place.counts - place.count + 1 >= session.count_in) return { from: holdEnd(step) + gone, lead: 0 };
  return { from: session.steps[Math.min(place.index + 1, session.steps.length - 1)].start, lead: session.count_in };
}

/**
 * The last note the student has played through on the way up to an open top, or null.
 * @param {Session} session @param {Position} place @returns {Step|null}
 */
export function lastNoteUp(session, place) {
  const heard = place.phase === "rest" || place.phase === "done" ? place.index : place.index - 1;
  const step = session.steps[heard];
  return session.top_is_open && step !== undefined && step.part === "up" ? step : null;
}
