/**
 * "Something hurts": told to the teacher at once, or kept on this phone until it can be told. The key is made
 * once, so that a report sent twice is one report.
 *
 * @typedef {{url: string, key: string, day: string, step: string}} Report
 */

const SHELF = "filar.hurt";
const PATIENCE_MILLISECONDS = 8000;

/**
 * Send one report, and keep it on this phone where that fails.
 * @param {Report} report @param {string} token the page's form token
 * @returns {Promise<"sent"|"kept"|"lost">} lost: it could neither be sent nor kept
 */
export async function tellTeacher(report, token) {
  const kept = keep([...waiting(), report]);
  if (await send(report, token)) {
    keep(waiting().filter((other) => other.key !== report.key));
    return "sent";
  }
  return kept ? "kept" : "lost";
}

/** Send what waits on this phone. Never called while a session runs. @param {string} token */
export async function tellWaiting(token) {
  for (const report of waiting()) {
    if (await send(report, token)) keep(waiting().filter((other) => other.key !== report.key));
  }
}

/** The reports that wait on this phone. @returns {Report[]} */
export function waiting() {
  try {
    const found = JSON.parse(localStorage.getItem(SHELF) ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {Report[]} reports @returns {boolean} whether this phone has room */
function keep(reports) {
  try {
    if (reports.length === 0) localStorage.removeItem(SHELF);
    else localStorage.setItem(SHELF, JSON.stringify(reports));
    return true;
  } catch {
    return false;
  }
}

/** @param {Report} report @param {string} token @returns {Promise<boolean>} */
async function send(report, token) {
  const body = new FormData();
  body.set("csrfmiddlewaretoken", token);
  body.set("key", report.key);
  body.set("day", report.day);
  body.set("step", report.step);
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MILLISECONDS);
  try {
    const answer = await fetch(report.url, { method: "POST", body, signal: patience.signal, keepalive: true });
    // An answer from another address is a sign-in or pairing page, not word that the report was stored.
    return answer.ok && !answer.redirected;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}
