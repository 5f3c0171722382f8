/**
 * The check-in on the phone: it is kept on this phone first and then sent. "Saved on this phone" is said only
 * once it is stored, "Your teacher can see it" only once the server has echoed it. What the phone knows of the
 * session is filled in; nothing a student answers is, and a session counts for its own day alone.
 *
 * Without what this needs, the page's form is sent as it is.
 *
 * @typedef {typeof import("./outbox/outbox.js")} Outbox
 * @typedef {typeof import("./outbox/day.js")} DayRule
 * @typedef {import("./outbox/day.js").Days} Days
 * @typedef {import("./player/words.js").Counted} Counted
 * @typedef {Record<string, string> & {minutes: Counted, seconds: Counted}} Words
 * @typedef {{student: string, day: string, seconds?: number, completed?: number, high_note?: number|null,
 *   last_good_note?: number|null, stopped_because?: string, trouble?: string[]}} Played
 */

const SESSION = "filar.session";
const FRESH_MILLISECONDS = 6 * 60 * 60 * 1000;
const AGAIN_MILLISECONDS = 10_000;
const REQUIRED = ["attack", "sound", "evenness", "release", "effort"];

/**
 * @param {HTMLFormElement} form @param {Outbox} outbox @param {DayRule} rule @param {Days} facts
 * @param {Words} words the sentences of the page
 * @param {typeof import("./check_in_day.js").createDay} createDay
 */
function prepare(form, outbox, rule, facts, words, createDay) {
  const student = form.dataset.student ?? "";
  const session = played(student);
  const self = {
    key: crypto.randomUUID(),
    replaces: /** @type {string|undefined} */ (undefined),
    /** The key of the check-in whose way is followed; "" once it has been said how it ended. */
    following: "",
    saving: false,
    touched: new Set(),
    waiting: /** @type {import("./outbox/outbox.js").Row[]} */ ([]),
  };
  const day = createDay(form, {
    rule,
    facts,
    words,
    part,
    suggested: session?.day ?? null,
    clockMayBeOff: outbox.CLOCK_MAY_BE_OFF_MILLISECONDS,
    waits: () => self.waiting.filter((row) => row.kind === "check-in" && row.student === student && row.key !== self.replaces),
    onDay: follow,
  });

  /** What was played counts for its own day, and for the day it is called after midnight. */
  function follow(/** @type {string} */ chosen, /** @type {boolean} */ mayBeToday) {
    fillFromSession(session !== null && (chosen === session.day || mayBeToday) ? session : null);
    const isHurt = self.waiting.some(({ kind, body }) => kind === "hurt" && new URLSearchParams(body).get("day") === chosen);
    if (!isHurt) return;
    part("hurt-today").hidden = false;
    /** @type {HTMLDetailsElement} */ (part("hurt")).open = true;
  }

  function fillFromSession(/** @type {Played|null} */ from) {
    const seconds = Math.round(from?.seconds ?? 0);
    set("seconds", from?.seconds === undefined ? "" : String(seconds));
    set("share", from?.completed === undefined ? "" : String(from.completed));
    if (session !== null) {
      set("high_note", String(from?.high_note ?? from?.last_good_note ?? ""));
      set("stopped_because", from?.stopped_because ?? "");
      for (const place of ["low", "middle", "high"]) tick("trouble", place, from?.trouble?.includes(place) ?? false);
    }
    part("played").hidden = seconds === 0;
    part("played-words").textContent = durationWords(words, seconds);
  }

  /** Writes what the student has not touched. */
  function set(/** @type {string} */ name, /** @type {string} */ value) {
    if (self.touched.has(name)) return;
    const field = form.elements.namedItem(name);
    if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) field.value = value;
    else for (const one of radios(name)) one.checked = value !== "" && one.value === value;
  }

  function tick(/** @type {string} */ name, /** @type {string} */ value, /** @type {boolean} */ is) {
    if (self.touched.has(name)) return;
    for (const one of radios(name)) if (one.value === value) one.checked = is;
  }

  function radios(/** @type {string} */ name) {
    return [.../** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll(`input[name="${name}"]`))];
  }

  async function save(/** @type {string} */ hurt) {
    const item = itemOf(hurt);
    self.saving = true;
    form.setAttribute("aria-busy", "true");
    part("no-room").hidden = true;
    part("refused").hidden = true;
    try {
      await outbox.put(item);
    } catch {
      return sendWithoutRoom(item, hurt);
    }
    forget();
    showKept(hurt, "here");
    const look = followKept(item.key, hurt);
    const arrived = await outbox.flush();
    if (arrived.includes(item.key)) showKept(hurt, "there");
    else await look();
    document.dispatchEvent(new Event("filar:put"));
  }

  /** A check-in that waits is followed until it has arrived, whoever sends it: this tab, another, the worker. */
  function followKept(/** @type {string} */ key, /** @type {string} */ hurt) {
    self.following = key;
    const look = async () => {
      const row = (await outbox.waiting()).find((one) => one.key === key);
      if (self.following !== key) return;
      if (row?.problem) return refuse(row.problem, key);
      const students = document.documentElement.dataset.students;
      const isOut = students !== undefined && !students.split(" ").includes(student);
      part("kept-out").hidden = row === undefined || !isOut;
      part("kept-soon").hidden = !part("kept-out").hidden;
    };
    document.addEventListener("filar:greeted", look);
    if (typeof BroadcastChannel === "undefined") return look;
    new BroadcastChannel(outbox.NAME).addEventListener("message", ({ data }) => {
      if (data.arrived.includes(key) && self.following === key) showKept(hurt, "there");
      else void look();
    });
    return look;
  }

  function itemOf(/** @type {string} */ hurt) {
    set("zone", Intl.DateTimeFormat().resolvedOptions().timeZone ?? "");
    set("utc_offset_minutes", String(-new Date().getTimezoneOffset()));
    set("done_at", new Date(day.now()).toISOString());
    set("key", self.key);
    const given = new FormData(form);
    given.delete("csrfmiddlewaretoken");
    given.set("hurt", hurt);
    const fields = /** @type {[string, string][]} */ ([...given].map(([name, value]) => [name, String(value)]));
    const url = form.getAttribute("action") ?? "";
    const { key, replaces } = self;
    return { kind: /** @type {const} */ ("check-in"), key, student, url, fields, sure: day.isSure(), replaces };
  }

  /** Nothing could be stored, so the page must stay until the answers have arrived. */
  async function sendWithoutRoom(/** @type {import("./outbox/outbox.js").Item} */ item, /** @type {string} */ hurt) {
    const stay = (/** @type {BeforeUnloadEvent} */ event) => event.preventDefault();
    window.addEventListener("beforeunload", stay);
    while (!(await outbox.sendUnkept(item))) {
      part("no-room").hidden = false;
      await Promise.race([
        new Promise((done) => window.addEventListener("online", done, { once: true })),
        new Promise((done) => setTimeout(done, AGAIN_MILLISECONDS)),
      ]);
    }
    window.removeEventListener("beforeunload", stay);
    forget();
    showKept(hurt, "there");
  }

  /** What was not taken comes back with everything typed, under a new key. */
  function refuse(/** @type {import("./outbox/outbox.js").Problem} */ problem, /** @type {string} */ key) {
    Object.assign(self, { key: crypto.randomUUID(), replaces: key, saving: false, following: "" });
    day.change();
    form.removeAttribute("aria-busy");
    part("asking").hidden = false;
    part("kept-panel").hidden = true;
    part("refused").hidden = false;
    part("refused-words").textContent = problem.words;
    if (problem.status === 0) day.letPick();
    part("refused").scrollIntoView();
  }

  /** @param {string} hurt @param {"here"|"there"} where stored on this phone, or echoed by the server */
  function showKept(hurt, where) {
    const isFirst = part("kept-panel").hidden;
    if (where === "there") self.following = "";
    const place = new FormData(form).get("place");
    part("asking").hidden = true;
    part("kept-panel").hidden = false;
    part("kept-here").hidden = where !== "here";
    part("kept-there").hidden = where !== "there";
    part("kept-out").hidden = true;
    part("kept-soon").hidden = false;
    part("kept-hurt").hidden = hurt !== "yes";
    part("kept-hurt-here").hidden = where !== "here";
    part("kept-hurt-there").hidden = where !== "there";
    part("kept-dizzy").hidden = place !== "dizzy";
    part("kept-chest").hidden = place !== "chest";
    if (!isFirst) return;
    window.scrollTo(0, 0);
    part("kept-title").focus();
  }

  /** Asks once for what is missing. @returns {boolean} whether everything is there */
  function isComplete(/** @type {string} */ hurt) {
    const given = new FormData(form);
    const asked = { no: REQUIRED, yes: ["how_much"] }[hurt] ?? [];
    const missing = asked.filter((name) => !given.has(name));
    if (!given.get("day")) missing.unshift("day");
    for (const name of missing) complain(name, name === "day" ? words.pick_the_day : words.pick_one);
    part("anyway").hidden = hurt !== "no" || missing.length === 0;
    if (missing.includes("day")) day.open();
    const first = missing[0] && document.getElementById(`id_${missing[0]}`);
    first?.focus();
    first?.scrollIntoView({ block: "center" });
    return missing.length === 0;
  }

  /** Take over an item that was not taken, to mend it. */
  function mend(/** @type {import("./outbox/outbox.js").Row} */ row) {
    const before = new URLSearchParams(row.body);
    self.replaces = row.key;
    for (const name of new Set(before.keys())) {
      const values = before.getAll(name);
      for (const one of radios(name)) if (["radio", "checkbox"].includes(one.type)) one.checked = values.includes(one.value);
      const field = form.elements.namedItem(name);
      if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement || field instanceof HTMLTextAreaElement) {
        field.value = values[0];
      }
      self.touched.add(name);
    }
    for (const name of ["zone", "utc_offset_minutes", "done_at", "key"]) self.touched.delete(name);
    day.change();
    if (row.problem?.status === 0) day.letPick();
  }

  async function start() {
    self.waiting = await outbox.waiting().catch(() => []);
    day.fill();
    const key = new URLSearchParams(location.search).get("mend");
    const row = self.waiting.find((one) => one.key === key && one.student === student && one.kind === "check-in");
    if (row !== undefined) mend(row);
    day.checkClock();
    document.addEventListener("filar:greeted", () => self.saving || day.checkClock());
    form.dataset.ready = "";
  }

  form.addEventListener("change", ({ target }) => {
    if (!(target instanceof HTMLElement)) return;
    self.touched.add(target.getAttribute("name"));
    document.getElementById(`id_${target.getAttribute("name")}_error`)?.remove();
  });
  part("filed-change").addEventListener("click", () => {
    day.change();
    part("questions").querySelector("input")?.focus();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const hurt = event.submitter instanceof HTMLButtonElement ? event.submitter.value : "no";
    if (!self.saving && isComplete(hurt)) void save(hurt);
  });
  void start();
}

/** "7 minutes", or "40 seconds" of a short one. @param {Words} words @param {number} seconds */
function durationWords(words, seconds) {
  const minutes = Math.round(seconds / 60);
  const [number, { forms, of }] = minutes > 0 ? [minutes, words.minutes] : [seconds, words.seconds];
  return forms[Number(of[Math.min(number, of.length - 1)])].replace("{number}", String(number));
}

/** Says under a row of buttons that one of them is still to be picked. @param {string} name @param {string} words */
function complain(name, words) {
  const field = document.getElementById(`id_${name}`);
  const id = `id_${name}_error`;
  if (field === null || document.getElementById(id) !== null) return;
  const list = document.createElement("ul");
  list.className = "field-errors";
  list.id = id;
  list.append(document.createElement("li"));
  list.children[0].textContent = words;
  (field.querySelector(".field-body") ?? field.parentElement)?.prepend(list);
  field.setAttribute("aria-describedby", id);
}

/** @param {string} name @returns {HTMLElement} */
function part(name) {
  return /** @type {HTMLElement} */ (document.querySelector(`[data-${name}]`));
}

/**
 * Reads the session that ended a short while ago on this phone, if it was this student's.
 * @param {string} student public id @returns {Played|null}
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

/** @returns {Words} */
function readWords() {
  return JSON.parse(document.getElementById("check-in-words")?.textContent ?? "");
}

/** Once a check-in is saved, its session is used up. */
function forget() {
  try {
    window.sessionStorage.removeItem(SESSION);
  } catch {
    // Without storage there is nothing to forget.
  }
}

async function begin() {
  if (document.querySelector("[data-saved]") !== null) forget();
  const form = document.querySelector("[data-check-in]");
  if (!(form instanceof HTMLFormElement) || crypto.subtle === undefined) return;
  const early = { by: /** @type {HTMLElement|null} */ (null) };
  const hold = (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    early.by = event.submitter;
  };
  form.addEventListener("submit", hold);
  try {
    const { outbox: letters, dayRule } = document.body.dataset;
    const [outbox, rule, { createDay }] = await Promise.all(
      [letters, dayRule, form.dataset.dayPart].map((address) => import(address ?? "")),
    );
    const facts = rule.factsOf("practice-days");
    if (facts !== null) prepare(form, outbox, rule, facts, readWords(), createDay);
  } finally {
    form.removeEventListener("submit", hold);
    if (early.by !== null) form.requestSubmit(early.by);
  }
}

begin();
