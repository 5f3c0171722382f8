/**
 * Puts figures into the sentences that the page has ready in its language. Pure, and without a word of its own.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {{forms: string[], of: string}} Counted one {number} in each form; `of` has for each number which it takes
 * @typedef {Record<string, string> & {notes: Counted, minutes: Counted, hurt: Record<string, string>}} Words
 */

/** @param {string} sentence such as "How was {note}?" @param {Record<string, string|number>} figures by name */
export function fill(sentence, figures) {
  return sentence.replace(/\{(\w+)\}/g, (place, name) => String(figures[name] ?? place));
}

/** "1 note", "12 notes". @param {Counted} counted @param {number} number */
export function count(counted, number) {
  const form = counted.of[Math.min(number, counted.of.length - 1)];
  return fill(counted.forms[Number(form)], { number });
}

/** What will happen. @param {Words} words @param {Session} session @param {number} seconds of the whole session */
export function lengthWords(words, session, seconds) {
  const minutes = count(words.minutes, Math.max(1, Math.round(seconds / 60)));
  const notes = count(words.notes, session.steps.length);
  return fill(session.top_is_open ? words.up_to : words.about, { notes, minutes });
}

/** What was played. @param {Words} words @param {import("./result.js").Result} result */
export function playedWords(words, result) {
  const seconds = Math.round(result.seconds);
  const minutes = Math.floor(seconds / 60);
  const notes = count(words.notes, result.notes_played);
  const sentence = minutes > 0 ? words.played : words.played_short;
  return fill(sentence, { notes, minutes, seconds: seconds % 60 });
}
