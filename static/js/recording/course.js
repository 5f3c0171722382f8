/**
 * What is due at a second of the recording: silence, the count-in, a hold or a rest. No page here.
 *
 * @typedef {{silence: number, countIn: number, beat: number, hold: number, rest: number, notes: string[],
 *   most: number}} Course  seconds; countIn in counts
 * @typedef {{phase: "silence"|"count-in"|"hold"|"rest"|"over", note: number, count: number}} Place
 *   note: from 0; count: from 1 within the phase
 */

/** @param {Course} course @param {number} seconds @returns {Place} */
export function placeAt(course, seconds) {
  const { silence, countIn, beat, hold, rest, notes } = course;
  if (seconds < silence) return { phase: "silence", note: 0, count: 1 };
  const counted = seconds - silence;
  if (counted < countIn * beat) return { phase: "count-in", note: 0, count: 1 + Math.floor(counted / beat) };
  const played = counted - countIn * beat;
  const note = Math.floor(played / (hold + rest));
  const within = played - note * (hold + rest);
  if (note >= notes.length) return { phase: "over", note: notes.length - 1, count: 1 };
  if (within < hold) return { phase: "hold", note, count: 1 + Math.floor(within / beat) };
  if (note === notes.length - 1 && within >= hold + Math.min(rest, 2)) return { phase: "over", note, count: 1 };
  return { phase: "rest", note, count: 1 + Math.floor((within - hold) / beat) };
}

/** How many notes were begun and held at least half by then. @param {Course} course @param {number} seconds */
export function notesBy(course, seconds) {
  const first = course.silence + course.countIn * course.beat + course.hold / 2;
  const begun = Math.floor((seconds - first) / (course.hold + course.rest)) + 1;
  return Math.max(0, Math.min(course.notes.length, begun));
}

/** The counts that click, and when, up to the end. @param {Course} course */
export function clicks(course) {
  const { silence, countIn, beat, hold, rest, notes } = course;
  const made = [];
  const start = silence + countIn * beat;
  const end = Math.min(course.most, start + notes.length * (hold + rest) - rest);
  for (let count = 0; silence + count * beat < end; count += 1) {
    const seconds = silence + count * beat;
    const within = (seconds - start) % (hold + rest);
    let kind = "count-in";
    if (count >= countIn) kind = within < beat / 2 ? "attack" : within < hold - beat / 2 ? "hold" : "rest";
    made.push({ seconds, kind });
  }
  return made;
}
