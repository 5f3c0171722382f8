/**
 * What waits on this phone to be sent. An item has a key of its own, made when its form was opened, so that
 * one sent twice counts once. It is forgotten only when the server has echoed its key and the hash of its
 * body; whatever else is answered, it stays. No token is kept with it: a fresh one is asked for on sending.
 *
 * @typedef {"check-in"|"hurt"|"not-today"} Kind
 * @typedef {Iterable<[string, string]>|Record<string, string>} Fields
 * @typedef {{kind: Kind, key: string, student: string, url: string, fields: Fields, sure?: boolean,
 *   replaces?: string}} Item
 *   sure: the day was picked by hand, or worked out by a clock that was checked; replaces: the key of an
 *   item that this one is the mended form of
 * @typedef {{status: number, words: string, at: number}} Problem  status 0: the phone's clock was wrong
 * @typedef {{key: string, kind: Kind, student: string, url: string, body: string, hash: string,
 *   sure: boolean, put_at: number, problem: Problem|null}} Row
 * @typedef {{token: string, students: string[], skew: number}} Greeting
 *   skew: milliseconds to add to this phone's clock to have the server's
 */

const DATABASE = "filar";
const ROWS = "outbox";
const LEASES = "lease";
/** The name of the lock, of the channel for news, and of the browser's own background sending. */
export const NAME = "filar.outbox";
const STATE = "/practice/phone";
const PATIENCE_MILLISECONDS = 10_000;
const LEASE_MILLISECONDS = 60_000;
const REFUSED_AGAIN_MILLISECONDS = 10 * 60_000;
export const CLOCK_MAY_BE_OFF_MILLISECONDS = 10 * 60_000;

/**
 * Keep an item. Resolves only once it is safely stored; rejects with a reason where this phone cannot.
 * The same item again changes nothing; other fields under the same key are refused.
 * @param {Item} item @returns {Promise<void>}
 */
export async function put(item) {
  const body = bodyOf(item);
  const { kind, key, student, url } = item;
  const sure = item.sure === true;
  const row = { kind, key, student, url, body, sure, hash: await hashOf(body), put_at: Date.now(), problem: null };
  await inStore("readwrite", ROWS, (rows) => {
    const before = rows.get(key);
    before.onsuccess = () => {
      if (before.result === undefined) rows.put(row);
      else if (before.result.hash === row.hash) rows.put({ ...before.result, problem: null });
      else rows.transaction.abort();
    };
    if (item.replaces !== undefined && item.replaces !== key) rows.delete(item.replaces);
  });
  void askForBackground();
}

/** Everything that waits, the oldest first. @returns {Promise<Row[]>} */
export async function waiting() {
  const rows = await inStore("readonly", ROWS, (store) => store.getAll());
  return rows.sort((/** @type {Row} */ one, /** @type {Row} */ other) => one.put_at - other.put_at);
}

/** Delete an item because the student says so; nothing else takes one away unsent. @param {string} key */
export async function discard(key) {
  await inStore("readwrite", ROWS, (store) => store.delete(key));
  tell([]);
}

/**
 * Send what waits, one tab at a time, and forget what has arrived.
 * @param {Greeting|null} [known] what the server has just said, if it was asked
 * @returns {Promise<string[]>} the keys that arrived
 */
export async function flush(known = null) {
  return alone(async () => {
    const rows = await waiting().catch(() => []);
    if (rows.length === 0) return [];
    const greeting = known ?? (await greet());
    const arrived = greeting === null ? [] : await sendAll(rows, greeting);
    if (arrived.length > 0) tell(arrived);
    return arrived;
  });
}

/** Ask the server whom this phone is set up for. @returns {Promise<Greeting|null>} null without signal */
export async function greet() {
  const asked = Date.now();
  try {
    const answer = await fetchPatiently(STATE, { cache: "no-store", redirect: "error" });
    const said = answer.ok ? await answer.json() : null;
    if (typeof said?.token !== "string" || !Array.isArray(said.students)) return null;
    const there = Date.parse(answer.headers.get("Date") ?? "");
    const skew = Number.isNaN(there) ? 0 : there - (asked + Date.now()) / 2;
    return { token: said.token, students: said.students, skew };
  } catch {
    return null;
  }
}

/** Send an item that could not be kept. @param {Item} item @returns {Promise<boolean>} whether it arrived */
export async function sendUnkept(item) {
  const greeting = await greet();
  if (greeting === null) return false;
  const body = bodyOf(item);
  const outcome = await send({ ...item, body, hash: await hashOf(body) }, greeting.token);
  return outcome === "arrived";
}

/** @param {Row[]} rows @param {Greeting} greeting @returns {Promise<string[]>} the keys that arrived */
async function sendAll(rows, greeting) {
  const arrived = [];
  for (const row of rows.filter((one) => maySend(one, greeting))) {
    if (isDoubtful(row, greeting)) {
      await note(row, { status: 0, words: "", at: Date.now() });
      continue;
    }
    const outcome = await sendRenewing(row, greeting);
    if (outcome === "arrived") {
      await forget(row);
      arrived.push(row.key);
    } else if (outcome === "later") {
      break;
    } else if (outcome !== "signed out") {
      await note(row, outcome);
    }
  }
  return arrived;
}

/** What belongs to a student who is not set up here now waits; so does what was refused a moment ago. */
function maySend(/** @type {Row} */ row, /** @type {Greeting} */ { students }) {
  if (!students.includes(row.student)) return false;
  if (row.problem === null) return true;
  const since = Date.now() - row.problem.at;
  return row.problem.status !== 0 && (since < 0 || since > REFUSED_AGAIN_MILLISECONDS);
}

/** Whether the day of a check-in came from a clock that is seen to be wrong. */
function isDoubtful(/** @type {Row} */ row, /** @type {Greeting} */ { skew }) {
  return row.kind === "check-in" && !row.sure && Math.abs(skew) > CLOCK_MAY_BE_OFF_MILLISECONDS;
}

/** Send once more with a new token where the first had grown old. */
async function sendRenewing(/** @type {Row} */ row, /** @type {Greeting} */ greeting) {
  const outcome = await send(row, greeting.token);
  if (outcome !== "token") return outcome;
  const fresh = await greet();
  const again = fresh === null ? "later" : await send(row, fresh.token);
  return again === "token" ? "later" : again;
}

/**
 * @param {{key: string, url: string, body: string, hash: string}} row @param {string} token
 * @returns {Promise<"arrived"|"later"|"signed out"|"token"|Problem>}
 */
async function send(row, token) {
  try {
    const answer = await fetchPatiently(row.url, {
      method: "POST",
      headers: {
        Accept: "application/json",
        "Content-Type": "application/x-www-form-urlencoded",
        "X-CSRFToken": token,
      },
      body: row.body,
      redirect: "error",
      keepalive: true,
    });
    if (answer.status === 403) return "token";
    if (answer.status === 404 || answer.status === 401) return "signed out";
    const said = await answer.json();
    if (answer.ok) return said.key === row.key && said.hash === row.hash ? "arrived" : "later";
    const isRefused = answer.status >= 400 && answer.status < 500 && answer.status !== 429;
    return isRefused ? { status: answer.status, words: String(said.words ?? ""), at: Date.now() } : "later";
  } catch {
    // No signal, no patience left, or an answer that is not ours: it stays.
    return "later";
  }
}

/** Only the very item that was echoed is forgotten. */
async function forget(/** @type {Row} */ row) {
  await change(row, (rows) => rows.delete(row.key));
}

async function note(/** @type {Row} */ row, /** @type {Problem} */ problem) {
  await change(row, (rows) => rows.put({ ...row, problem }));
  tell([]);
}

/** @param {Row} row @param {(rows: IDBObjectStore) => unknown} work done only where the row is still there */
async function change(row, work) {
  await inStore("readwrite", ROWS, (rows) => {
    const here = rows.get(row.key);
    here.onsuccess = () => {
      if (here.result?.hash === row.hash) work(rows);
    };
  });
}

/**
 * Do something in one tab at a time, the worker included. Older browsers have no locks: there a lease in the
 * store stands in, and a tab that finds it taken leaves the sending to the tab that has it.
 * @param {() => Promise<string[]>} work
 */
async function alone(work) {
  if (navigator.locks !== undefined) return navigator.locks.request(NAME, work);
  if (!(await takeLease().catch(() => false))) return [];
  try {
    return await work();
  } finally {
    await inStore("readwrite", LEASES, (leases) => leases.delete(NAME)).catch(() => {});
  }
}

/** @returns {Promise<boolean>} whether this tab may send now */
async function takeLease() {
  const taken = { by: false };
  await inStore("readwrite", LEASES, (leases) => {
    const before = leases.get(NAME);
    before.onsuccess = () => {
      const until = before.result?.until ?? 0;
      const now = Date.now();
      if (until > now && until <= now + LEASE_MILLISECONDS) return;
      leases.put({ name: NAME, until: now + LEASE_MILLISECONDS });
      taken.by = true;
    };
  });
  return taken.by;
}

/** Let every tab know that something has changed, and what has arrived. @param {string[]} keys */
function tell(keys) {
  if (typeof BroadcastChannel === "undefined") return;
  const channel = new BroadcastChannel(NAME);
  channel.postMessage({ arrived: keys });
  channel.close();
}

/** Some browsers send by themselves once there is signal, with the app closed. */
async function askForBackground() {
  try {
    const registration = await navigator.serviceWorker?.getRegistration();
    await /** @type {any} */ (registration)?.sync?.register(NAME);
  } catch {
    // Not here, or not allowed: it is sent when the app is next open.
  }
}

/** @param {string} address @param {RequestInit} how */
async function fetchPatiently(address, how) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MILLISECONDS);
  try {
    return await fetch(address, { ...how, credentials: "same-origin", signal: patience.signal });
  } finally {
    clearTimeout(timer);
  }
}

/** @param {Item} item */
function bodyOf({ key, fields }) {
  const body = new URLSearchParams(/** @type {any} */ (fields));
  body.set("key", key);
  return body.toString();
}

/** @param {string} body @returns {Promise<string>} SHA-256 in hexadecimal */
async function hashOf(body) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(body));
  return [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Work in the store. Resolves with the result only after the transaction has completed and is on disk.
 * @param {IDBTransactionMode} mode @param {string} name @param {(store: IDBObjectStore) => any} work
 */
async function inStore(mode, name, work) {
  const database = await open();
  try {
    return await new Promise((done, fail) => {
      const transaction = database.transaction(name, mode, { durability: "strict" });
      const asked = work(transaction.objectStore(name));
      transaction.oncomplete = () => done(asked?.result);
      transaction.onabort = () => fail(transaction.error ?? new Error("Other answers wait under this key."));
    });
  } finally {
    database.close();
  }
}

/** @returns {Promise<IDBDatabase>} */
function open() {
  return new Promise((done, fail) => {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore(ROWS, { keyPath: "key" });
      asked.result.createObjectStore(LEASES, { keyPath: "name" });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
}
