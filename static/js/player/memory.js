/**
 * Keeps on this phone how far a session has come, so that a page loaded anew can ask whether to carry on.
 * A place belongs to one student, one version of the block and one day; any other is dropped.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./course.js").Course} Course
 */

const SHELF = "filar.place.";

/** @param {Session} session */
export function createMemory(session) {
  const shelf = SHELF + session.student;
  const whose = { block: session.block, version: session.version, day: session.day };

  /** Keep the course; without room the session goes on, and a page loaded anew begins at the first note. */
  function keep(/** @type {Course} */ course) {
    try {
      localStorage.setItem(shelf, JSON.stringify({ ...whose, course }));
    } catch {
      forget();
    }
  }

  /** Nothing is left to carry on with. */
  function forget() {
    try {
      localStorage.removeItem(shelf);
    } catch {
      // Without storage there is nothing to forget.
    }
  }

  /**
   * The course that was left in the middle, or null. It has been quiet at least since `moment`: how long a page
   * was away is not asked of the wall clock, which may be set.
   * @param {number} moment @returns {Course|null}
   */
  function find(moment) {
    const kept = read();
    const fits = kept !== null && Object.entries(whose).every(([name, value]) => kept[name] === value);
    const course = fits ? sound(kept.course, session) : null;
    if (course === null) forget();
    return course === null ? null : { ...course, quietSince: moment };
  }

  function read() {
    try {
      return JSON.parse(localStorage.getItem(shelf) ?? "null");
    } catch {
      return null;
    }
  }

  return { keep, forget, find };
}

/** What was kept, if it is a course of this session in which a note has been begun; else null. */
function sound(/** @type {any} */ kept, /** @type {Session} */ session) {
  const isStep = (/** @type {unknown} */ at) => Number.isInteger(at) && session.steps[Number(at)] !== undefined;
  const isPlayed = (/** @type {any} */ one) => Number.isFinite(one?.from) && Number.isFinite(one?.to);
  const { next, again, played, marks } = kept ?? {};
  if (!isStep(next) || !isStep(again)) return null;
  if (!Array.isArray(played) || played.length === 0 || !played.every(isPlayed)) return null;
  const said = Object.entries(marks ?? {}).filter(([at, word]) => isStep(Number(at)) && ["good", "not yet"].includes(word));
  return { next, again, played, marks: Object.fromEntries(said) };
}
