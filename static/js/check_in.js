/**
 * Hands the check-in what the phone knows: the session that was just played, and the phone's time.
 * Nothing a student answers is filled in here, and a session counts for its own day alone.
 */

const SESSION = "filar.session";
const FRESH_MILLISECONDS = 6 * 60 * 60 * 1000;

const form = document.querySelector("[data-check-in]");
if (form instanceof HTMLFormElement) prepare(form);
if (document.querySelector("[data-saved]") !== null) forget();

/** @param {HTMLFormElement} form */
function prepare(form) {
  const session = played(form.dataset.student ?? "");
  const day = form.elements.namedItem("day");
  const follow = () => {
    const counts = session !== null && valueOf(day) === session.day;
    put(form, "seconds", counts ? Math.round(session.seconds) : "");
    put(form, "finished", counts && session.completed === 1 ? "on" : "");
    put(form, "high_note", counts ? (session.last_good_note ?? "") : "");
  };
  if (session !== null) {
    follow();
    if (day instanceof HTMLSelectElement) day.addEventListener("change", follow);
  }
  form.addEventListener("submit", () => {
    const now = new Date();
    put(form, "zone", Intl.DateTimeFormat().resolvedOptions().timeZone ?? "");
    put(form, "utc_offset_minutes", -now.getTimezoneOffset());
    put(form, "done_at", now.toISOString());
  });
}

/**
 * Reads the session that ended a short while ago on this phone, if it was this student's.
 * @param {string} student public id
 * @returns {{day: string, seconds: number, completed: number, last_good_note: number | null} | null}
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

/** Once a check-in is saved, its session is used up. */
function forget() {
  try {
    window.sessionStorage.removeItem(SESSION);
  } catch {
    // Without storage there is nothing to forget.
  }
}

/** @param {Element | RadioNodeList | null} field */
function valueOf(field) {
  return field instanceof HTMLInputElement || field instanceof HTMLSelectElement ? field.value : "";
}

/**
 * Writes a value into a field.
 * @param {HTMLFormElement} form
 * @param {string} name
 * @param {string | number} value
 */
function put(form, name, value) {
  const field = form.elements.namedItem(name);
  if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) field.value = String(value);
}
