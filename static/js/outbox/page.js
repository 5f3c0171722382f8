/**
 * What every page of a student does beside its own job: starts the worker, says when there is no signal,
 * shows what waits on this phone, sends it, and lets the phone forget students who were signed out.
 *
 * @typedef {typeof import("./outbox.js")} Outbox
 * @typedef {import("./outbox.js").Row} Row
 * @typedef {import("./outbox.js").Greeting} Greeting
 */

const FIRST_WAIT_MILLISECONDS = 1000;
const LONGEST_WAIT_MILLISECONDS = 60_000;
const LATE_MILLISECONDS = 24 * 60 * 60_000;
const LOADED_AGAIN = "filar.loaded-again";
const LOADED_AGAIN_MILLISECONDS = 30_000;
/** Said on the document whenever the server was asked; its first element has what was answered. */
const GREETED = "filar:greeted";
const NO_PAGE = "[data-today], [data-no-page]";

/** @param {Outbox} outbox @param {typeof import("./day.js")} rule */
function watch(outbox, rule) {
  const self = { timer: 0, wait: FIRST_WAIT_MILLISECONDS, /** @type {string[]|null} */ students: null, day: dayNow(rule), leaving: false };

  /** Ask the server, send what waits, and show how things are. */
  async function refresh() {
    clearTimeout(self.timer);
    const greeting = await outbox.greet();
    if (greeting !== null) self.students = greeting.students;
    showSignal(greeting !== null);
    if (greeting !== null) {
      document.documentElement.dataset.skew = String(greeting.skew);
      document.documentElement.dataset.students = greeting.students.join(" ");
      document.dispatchEvent(new Event(GREETED));
      await outbox.flush(greeting);
      await forgetOthers(greeting.students);
    }
    const rows = await show();
    const mayGo = rows.some((row) => row.problem === null && (self.students?.includes(row.student) ?? true));
    const isWaiting = greeting === null || mayGo;
    self.wait = isWaiting ? Math.min(self.wait * 2, LONGEST_WAIT_MILLISECONDS) : FIRST_WAIT_MILLISECONDS;
    if (isWaiting) self.timer = window.setTimeout(refresh, self.wait * (0.5 + Math.random() / 2));
    if (greeting !== null && rule.isKept() && !self.leaving) loadAgain();
  }

  async function show() {
    const rows = await outbox.waiting().catch(() => []);
    for (const place of document.querySelectorAll("[data-waiting]")) {
      if (place instanceof HTMLElement) showWaiting(place, rows, self.students, (row) => problemOf(row, outbox, rule, refresh));
    }
    return rows;
  }

  function soon() {
    self.wait = FIRST_WAIT_MILLISECONDS;
    void refresh();
  }

  /** A page that was left open overnight is loaded anew; one with typed answers never is. */
  function returned() {
    if (document.hidden) return;
    self.leaving = false;
    if (dayNow(rule) !== self.day && document.querySelector("[data-today]") !== null) location.reload();
    else soon();
  }

  window.addEventListener("online", soon);
  window.addEventListener("offline", () => showSignal(false));
  // Loading anew now would take back the tap that leads away.
  window.addEventListener("beforeunload", () => (self.leaving = true));
  window.addEventListener("pageshow", (event) => event.persisted && returned());
  document.addEventListener("visibilitychange", returned);
  document.addEventListener("filar:put", soon);
  if (typeof BroadcastChannel !== "undefined") {
    new BroadcastChannel(outbox.NAME).addEventListener("message", () => void show());
  }
  showSignal(!rule.isKept());
  void show();
  soon();
}

/** The practice day by the phone's clock, or "" on a page without one. @param {typeof import("./day.js")} rule */
function dayNow(rule) {
  const facts = rule.factsOf("practice-days");
  return facts === null ? "" : rule.practiceDay(now(), facts.zone, facts.ends);
}

/** The moment, by the server's clock where that was asked. */
function now() {
  return Date.now() + Number(document.documentElement.dataset.skew ?? 0);
}

/** A page from the phone, while there is signal after all: take the newer one, but not over and over. */
function loadAgain() {
  if (document.querySelector(NO_PAGE) === null) return;
  try {
    const last = Number(sessionStorage.getItem(LOADED_AGAIN));
    if (Math.abs(Date.now() - last) < LOADED_AGAIN_MILLISECONDS) return;
    sessionStorage.setItem(LOADED_AGAIN, String(Date.now()));
    location.reload();
  } catch {
    // Without storage it might go on for ever, so it does not begin.
  }
}

/** @param {boolean} isThere */
async function showSignal(isThere) {
  const bar = document.querySelector("[data-no-signal]");
  if (bar === null) return;
  if (!isThere && bar.hasAttribute("hidden")) {
    const session = document.querySelector("[data-today]")?.getAttribute("data-session");
    const isHere = session ? (await keptPage(session)) !== undefined : false;
    bar.querySelector("[data-session-here]")?.toggleAttribute("hidden", !isHere);
    bar.querySelector("[data-session-not-here]")?.toggleAttribute("hidden", isHere);
  }
  bar.toggleAttribute("hidden", isThere);
}

/** @param {string} path */
async function keptPage(path) {
  return typeof caches === "undefined" ? undefined : caches.match(path).catch(() => undefined);
}

/**
 * @param {HTMLElement} place @param {Row[]} rows @param {string[]|null} students who is set up here, if known
 * @param {(row: Row) => Node} draw shows one that was not taken
 */
function showWaiting(place, rows, students, draw) {
  const isOut = (/** @type {Row} */ row) => students !== null && !students.includes(row.student);
  const going = rows.filter((row) => !isOut(row) && row.problem === null);
  const checkIns = going.filter(({ kind }) => kind === "check-in").length;
  const out = rows.filter(isOut).length;
  const isLate = going.some((row) => Date.now() - row.put_at > LATE_MILLISECONDS);
  const stuck = rows.filter((row) => !isOut(row) && row.problem !== null);
  const said = {
    "check-in-one": checkIns === 1,
    "check-in-many": checkIns > 1,
    hurt: going.some(({ kind }) => kind === "hurt"),
    "not-today": going.some(({ kind }) => kind === "not-today"),
    late: isLate,
    "out-one": out === 1,
    "out-many": out > 1,
  };
  for (const [name, is] of Object.entries(said)) {
    const line = place.querySelector(`[data-say="${name}"]`);
    line?.toggleAttribute("hidden", !is);
    const number = line?.querySelector("[data-number]");
    if (number) number.textContent = String(name.startsWith("out") ? out : checkIns);
  }
  const list = place.querySelector("[data-problems]");
  const shown = JSON.stringify(stuck.map(({ key, problem }) => [key, problem]));
  // Drawn anew only when it differs: a list that is looked at keeps what is open and focused in it.
  if (list instanceof HTMLElement && list.dataset.shown !== shown) {
    list.dataset.shown = shown;
    list.replaceChildren(...stuck.map(draw));
  }
  place.hidden = rows.length === 0;
}

/**
 * One item that was not taken, with what can be done.
 * @param {Row} row @param {Outbox} outbox @param {typeof import("./day.js")} rule
 * @param {() => Promise<void>} refresh
 */
function problemOf(row, outbox, rule, refresh) {
  const template = /** @type {HTMLTemplateElement} */ (document.querySelector("template[data-problem]"));
  const item = /** @type {DocumentFragment} */ (template.content.cloneNode(true));
  const at = (/** @type {string} */ name) => /** @type {HTMLElement} */ (item.querySelector(`[data-problem-${name}]`));
  const fields = new URLSearchParams(row.body);
  const day = fields.get("day");
  at("day").textContent = day ? rule.dayWords(day) : "";
  at("words").textContent = row.problem?.words ?? "";
  at("clock").hidden = row.problem?.status !== 0;
  const open = /** @type {HTMLAnchorElement} */ (at("open"));
  open.hidden = row.kind !== "check-in";
  open.href = `${row.url}?mend=${row.key}`;
  at("change").hidden = row.problem?.status !== 409;
  at("change").addEventListener("click", async () => {
    const { kind, student, url, sure } = row;
    const key = crypto.randomUUID();
    fields.delete("key");
    await outbox.put({ kind, key, student, url, sure, fields: [...fields], replaces: row.key });
    await refresh();
  });
  at("delete").addEventListener("click", async () => {
    await outbox.discard(row.key);
    await refresh();
  });
  return item;
}

/** Forget the pages of students this phone is no longer set up for. What they have not sent stays. */
async function forgetOthers(/** @type {string[]} */ students) {
  if (typeof caches === "undefined") return;
  const prefix = "filar-pages-";
  const others = (await caches.keys())
    .filter((name) => name.startsWith(prefix))
    .map((name) => name.slice(prefix.length))
    .filter((student) => !students.includes(student));
  for (const student of others) {
    await caches.delete(prefix + student);
    await (await caches.open("filar-files")).delete("/practice");
    forgetNotes(student);
  }
}

/** What other pages have noted of a student, such as a place in a session. @param {string} student */
function forgetNotes(student) {
  try {
    for (const name of Object.keys(localStorage).filter((one) => one.includes(student))) localStorage.removeItem(name);
  } catch {
    // Without storage there is nothing to forget.
  }
}

/** Start the worker, and let it keep this student's pages. */
async function startWorker() {
  const address = document.body.dataset.worker;
  if (!address || !("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register(address, { scope: "/", type: "module" });
  const page = document.querySelector("[data-today]");
  if (!(page instanceof HTMLElement) || document.documentElement.dataset.kept !== undefined) return;
  const { keep, student, edition } = page.dataset;
  const { active } = await navigator.serviceWorker.ready;
  active?.postMessage({ keep: keep?.split(" ") ?? [], student, edition });
}

/**
 * Tell by way of the outbox what a form would tell, and load Today anew once it has arrived.
 * @param {Outbox} outbox @param {typeof import("./day.js")} rule
 */
function letterForms(outbox, rule) {
  for (const form of document.querySelectorAll("form[data-letter]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (form.hasAttribute("aria-busy")) return;
      form.setAttribute("aria-busy", "true");
      const item = letterOf(form, dayNow(rule));
      const isKept = await outbox.put(item).then(() => true, () => false);
      const arrived = isKept ? (await outbox.flush()).includes(item.key) : await outbox.sendUnkept(item);
      if (arrived) return location.reload();
      document.querySelector("[data-letter-kept]")?.toggleAttribute("hidden", !isKept);
      document.querySelector("[data-letter-lost]")?.toggleAttribute("hidden", isKept);
      if (!isKept) form.removeAttribute("aria-busy");
      document.dispatchEvent(new Event("filar:put"));
    });
  }
}

/** Signing a student out would lose what waits on this phone, so that is said once. @param {Outbox} outbox */
function askBeforeForgetting(outbox) {
  const form = document.querySelector("form[data-forget]");
  const notice = document.querySelector("[data-still-waiting]");
  if (!(form instanceof HTMLFormElement) || notice === null) return;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const rows = await outbox.waiting().catch(() => []);
    const own = rows.filter((row) => row.student === form.dataset.forget);
    if (own.length > 0 && notice.hasAttribute("hidden")) return notice.removeAttribute("hidden");
    for (const row of own) await outbox.discard(row.key);
    form.submit();
  });
}

/** @param {Element} form @param {string} day @returns {import("./outbox.js").Item} */
function letterOf(form, day) {
  return {
    kind: "not-today",
    key: crypto.randomUUID(),
    student: document.querySelector("[data-today]")?.getAttribute("data-student") ?? "",
    url: form.getAttribute("action") ?? "",
    fields: { day, done_at: new Date(now()).toISOString() },
  };
}

async function start() {
  if (crypto.subtle === undefined) return;
  const [outbox, rule] = await Promise.all([
    import(document.body.dataset.outbox ?? ""),
    import(document.body.dataset.dayRule ?? ""),
  ]);
  watch(outbox, rule);
  letterForms(outbox, rule);
  askBeforeForgetting(outbox);
  await startWorker().catch(() => {});
}

start();
