/**
 * Sentences with a number in them. Pure.
 *
 * @typedef {import("./position.js").Session} Session
 */

/** What becomes of "something hurts". */
export const HURT_WORDS = {
  sent: "Thanks for saying so. Rest today. Your teacher has been told. Your plan stays where it is until you two have talked.",
  kept: "Saved on this phone. Tell a grown-up or your teacher now.",
  lost: "This phone could not save it. Tell a grown-up or your teacher now.",
};

/** What will happen. @param {Session} session @param {number} seconds of the whole session */
export function lengthWords(session, seconds) {
  const minutes = Math.max(1, Math.round(seconds / 60));
  const time = `${minutes} ${minutes === 1 ? "minute" : "minutes"}`;
  const notes = notesWords(session.steps.length);
  return session.top_is_open ? `Up to ${notes} and ${time}. You choose the top.` : `${notes}. About ${time}.`;
}

/** What was played. @param {import("./result.js").Result} result */
export function playedWords(result) {
  const seconds = Math.round(result.seconds);
  const minutes = Math.floor(seconds / 60);
  const time = minutes > 0 ? `${minutes} min ${seconds % 60} s` : `${seconds} s`;
  return `${notesWords(result.notes_played)}, ${time}.`;
}

/** @param {number} count */
function notesWords(count) {
  return count === 1 ? "1 note" : `${count} notes`;
}
