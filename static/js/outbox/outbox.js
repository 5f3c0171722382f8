/**
 * What waits on this phone to be sent. Every item has a key of its own, so that one sent twice counts once.
 *
 * @typedef {{kind: "check-in"|"hurt"|"not-today", key: string, student: string, url: string,
 *   fields: Record<string, string>}} Item
 */

const SHELF = "filar.outbox";
const PATIENCE_MILLISECONDS = 8000;

/** Keep an item; rejects with a reason where this phone cannot. @param {Item} item */
export async function put(item) {
  localStorage.setItem(SHELF, JSON.stringify([...waiting(), item]));
}

/** Send what waits, and take away what has arrived. @returns {Promise<string[]>} the keys that arrived */
export async function flush() {
  const arrived = [];
  for (const item of waiting()) {
    if (await send(item)) arrived.push(item.key);
  }
  const left = waiting().filter((item) => !arrived.includes(item.key));
  if (left.length === 0) localStorage.removeItem(SHELF);
  else localStorage.setItem(SHELF, JSON.stringify(left));
  return arrived;
}

/** @returns {Item[]} */
function waiting() {
  try {
    const found = JSON.parse(localStorage.getItem(SHELF) ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {Item} item @returns {Promise<boolean>} */
async function send(item) {
  const body = new FormData();
  const token = /** @type {HTMLInputElement|null} */ (document.querySelector("[name=csrfmiddlewaretoken]"));
  body.set("csrfmiddlewaretoken", token?.value ?? "");
  for (const [name, value] of Object.entries(item.fields)) body.set(name, value);
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MILLISECONDS);
  try {
    const answer = await fetch(item.url, { method: "POST", body, signal: patience.signal, keepalive: true });
    // An answer from another address is a sign-in or pairing page, not word that the item was stored.
    return answer.ok && !answer.redirected;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}
