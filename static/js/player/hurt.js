/**
 * "Something hurts": kept on this phone first, then told to the teacher at once. The key is made once, so
 * that a report sent twice is one report.
 *
 * @typedef {{key: string, student: string, url: string, day: string, step: number}} Report
 * @typedef {typeof import("../outbox/outbox.js")} Outbox
 */

const PATIENCE_MILLISECONDS = 8000;

/**
 * @param {Report} report @param {Outbox} outbox @param {string} token the page's form token
 * @param {() => void} kept called once the report is safe on this phone
 * @returns {Promise<"sent"|"kept"|"lost">} lost: it could neither be kept nor sent
 */
export async function tellTeacher(report, outbox, token, kept) {
  const { key, student, url, day, step } = report;
  const fields = { key, day, step: String(step) };
  try {
    await outbox.put({ kind: "hurt", key, student, url, fields });
  } catch {
    return (await send(url, fields, token)) ? "sent" : "lost";
  }
  kept();
  return wasSent(await outbox.flush().catch(() => []), key) ? "sent" : "kept";
}

/** Only the server's own echo of the key says that the teacher can read it. */
function wasSent(/** @type {unknown} */ echoed, /** @type {string} */ key) {
  return Array.isArray(echoed) && echoed.includes(key);
}

/** Where this phone keeps nothing, the report goes straight to the server. */
async function send(
  /** @type {string} */ url,
  /** @type {Record<string, string>} */ fields,
  /** @type {string} */ token,
) {
  const body = new FormData();
  body.set("csrfmiddlewaretoken", token);
  for (const [name, value] of Object.entries(fields)) body.set(name, value);
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MILLISECONDS);
  try {
    const answer = await fetch(url, { method: "POST", body, signal: patience.signal, keepalive: true });
    // An answer from another address is a sign-in or pairing page, not word that the report was stored.
    return answer.ok && !answer.redirected;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}
