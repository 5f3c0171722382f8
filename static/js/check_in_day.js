/**
 * Which day a check-in is for: the days on offer, the question after midnight, what was filed for a day
 * before, and the phone whose clock is wrong. It knows nothing of the answers.
 *
 * @typedef {import("./outbox/day.js").Days} Days
 * @typedef {import("./outbox/outbox.js").Row} Row
 * @typedef {{rule: typeof import("./outbox/day.js"), facts: Days, words: Record<string, string>,
 *   part: (name: string) => HTMLElement, suggested: string|null, clockMayBeOff: number, waits: () => Row[],
 *   onDay: (day: string, mayBeToday: boolean) => void}} Needs
 *   words: the sentences of the page; suggested: the day of the session just played; waits: the check-ins of this student on this phone;
 *   onDay: called whenever the day changes
 */

const LONGEST_KEPT_DAYS = 60;

/** @param {HTMLFormElement} form @param {Needs} needs */
export function createDay(form, { rule, facts, words, part, suggested, clockMayBeOff, waits, onDay }) {
  const select = /** @type {HTMLSelectElement} */ (form.elements.namedItem("day"));
  const self = { isPicked: false, changes: false };
  const skew = () => document.documentElement.dataset.skew;
  /** The moment, by the server's clock where that was asked. */
  const now = () => Date.now() + Number(skew() ?? 0);
  const dayOf = (/** @type {number} */ moment) => rule.practiceDay(moment, facts.zone, facts.ends);

  /** The days that may be meant now: the studio's, the calendar's, and that of a phone elsewhere. */
  function candidates() {
    const moment = now();
    const elsewhere = rule.practiceDay(moment, undefined, facts.ends);
    return [...new Set([dayOf(moment), rule.wallClock(moment, facts.zone).day, elsewhere])].sort();
  }

  function fill() {
    const days = candidates();
    const today = dayOf(now());
    const found = rule.daysToFill(days[days.length - 1], today, facts);
    const isLost = found.length === 0 && clockIsLost(today);
    const offered = isLost ? rule.daysToFill(facts.today, facts.today, facts) : found;
    const chosen = self.isPicked ? select.value : (suggested ?? today);
    select.replaceChildren(...offered.map((day) => new Option(rule.dayWords(day), day)));
    select.value = offered.includes(chosen) ? chosen : (offered[0] ?? "");
    for (const place of document.querySelectorAll("[data-no-day]")) place.toggleAttribute("hidden", offered.length > 0);
    form.hidden = offered.length === 0;
    askAfterMidnight(days.filter((day) => offered.includes(day)));
    if (isLost && !self.isPicked && offered.length > 0) askForDay();
    follow();
  }

  /** Without signal a clock before the page was made, or long after it, cannot be right. */
  function clockIsLost(/** @type {string} */ today) {
    if (!rule.isKept() || skew() !== undefined) return false;
    return today < facts.today || today > rule.plusDays(facts.today, LONGEST_KEPT_DAYS);
  }

  /** Where two days may be meant, the student says which. */
  function askAfterMidnight(/** @type {string[]} */ days) {
    const isOpen = days.length > 1 && !self.isPicked;
    part("midnight").hidden = !isOpen;
    if (!isOpen) return;
    const [before, after] = [days[0], days[days.length - 1]];
    part("midnight-time").textContent = rule.timeWords(rule.wallClock(now()).minutes);
    part("midnight-day").textContent = rule.dayWords(before, "weekday");
    part("midnight-before").textContent = rule.dayWords(before, "weekday");
    part("midnight-after").textContent = rule.dayWords(after, "weekday");
    part("midnight-before").onclick = () => pick(before);
    part("midnight-after").onclick = () => pick(after);
  }

  function pick(/** @type {string} */ day) {
    select.value = day;
    picked();
    part("for-day").querySelector("summary")?.focus();
  }

  function picked() {
    self.isPicked = true;
    part("midnight").hidden = true;
    if (select.value !== "") part("clock").hidden = true;
    follow();
  }

  /** What stands on the page follows the day: its name, and what was filed for it before. */
  function follow() {
    const day = select.value;
    const filed = facts.filed[day] ?? savedHere(day);
    const isOpen = filed !== "" && !self.changes;
    part("for-words").textContent = day ? words.for_day.replace("{day}", rule.dayWords(day)) : words.for_which_day;
    part("filed").hidden = !isOpen;
    part("filed-change").hidden = false;
    part("questions").hidden = isOpen;
    part("filed-day").textContent = day ? rule.dayWords(day, "weekday") : "";
    part("filed-time").textContent = filed;
    onDay(day, candidates().includes(day));
  }

  /** When a check-in of this day was saved that still waits on this phone; "" without one. */
  function savedHere(/** @type {string} */ day) {
    const row = waits().filter(({ body }) => new URLSearchParams(body).get("day") === day).pop();
    return row === undefined ? "" : rule.timeWords(rule.wallClock(row.put_at, facts.zone).minutes);
  }

  /** The server's clock shows that the phone's day is wrong: say so, and let the student pick. */
  function checkClock() {
    const isOff = Math.abs(Number(skew() ?? 0)) > clockMayBeOff;
    if (isOff && !self.isPicked && dayOf(Date.now()) !== dayOf(now())) letPick();
  }

  /** Say what the phone's clock says, and take no day before one is picked. */
  function letPick() {
    self.isPicked = false;
    fill();
    askForDay();
    follow();
  }

  function askForDay() {
    part("clock").hidden = false;
    part("clock-says").textContent = rule.dayWords(rule.wallClock(Date.now(), facts.zone).day, "year");
    part("midnight").hidden = true;
    select.prepend(new Option(words.pick_a_day, ""));
    select.value = "";
    open();
  }

  function open() {
    /** @type {HTMLDetailsElement} */ (part("for-day")).open = true;
  }

  /** Another check-in for a day is meant: what was filed before does not stand in its way. */
  function change() {
    self.changes = true;
    follow();
  }

  select.addEventListener("change", picked);
  /** @returns {boolean} whether the day cannot come from a wrong clock */
  const isSure = () => self.isPicked || skew() !== undefined;
  return { fill, follow, change, checkClock, letPick, open, isSure, now };
}
