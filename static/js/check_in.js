/**
 * Hands the check-in what the phone knows: the session that was just played, and the phone's time.
 * Nothing a student answers is filled in here.
 */

const SESSION = "filar.session";
const FRESH_MILLISECONDS = 6 * 60 * 60 * 1000;

const form = document.querySelector("[data-check-in]");
if (form instanceof HTMLFormElement) {
  const session = played(form.dataset.student ?? "");
  if (session !== null) {
    fill(form, "seconds", Math.round(session.seconds));
    fill(form, "played_share", session.completed);
    fill(form, "high_note", session.last_good_note ?? "");
  }
  form.addEventListener("submit", () => {
    const now = new Date();
    fill(form, "zone", Intl.DateTimeFormat().resolvedOptions().timeZone ?? "");
    fill(form, "utc_offset_minutes", -now.getTimezoneOffset());
    fill(form, "done_at", now.toISOString());
  });
}

/**
 * Reads the session that ended a short while ago on this phone, if it was this student's.
 * @param {string} student public id
 * @returns {{seconds: number, completed: number, last_good_note: number | null} | null}
 */
function played(student) {
  try {
    const kept = JSON.parse(window.sessionStorage.getItem(SESSION) ?? "null");
    const age = Date.now() - Date.parse(kept?.finished_at ?? "");
    return kept?.student === student && age >= 0 && age < FRESH_MILLISECONDS ? kept : null;
  } catch {
    return null;
  }
}

/**
 * Writes a value into a field that has not been touched yet.
 * @param {HTMLFormElement} form
 * @param {string} name
 * @param {string | number} value
 */
function fill(form, name, value) {
  const field = form.elements.namedItem(name);
  if ((field instanceof HTMLInputElement || field instanceof HTMLSelectElement) && field.value === "") {
    field.value = String(value);
  }
}
