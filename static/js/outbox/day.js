/**
 * Which practice day it is, worked out on the phone by the studio's own rule: a day ends at four in the
 * morning by the studio's clocks, or whenever the studio says. Days are "YYYY-MM-DD", moments milliseconds.
 *
 * A page that the phone kept says so on its first element. Opened on a later day it is set to that day here,
 * before anything else reads it; a page that has just come from the server is left alone.
 *
 * @typedef {{today: string, zone: string, ends: string, back: number, blocks: [string, string][],
 *   filed: Record<string, string>, ahead?: Record<string, {off: boolean, dynamics: string}>}} Days
 */

/**
 * The date and the time of day that clocks in a zone show.
 * @param {number} moment @param {string} [zone] an IANA name; the phone's own without one
 * @returns {{day: string, minutes: number}} minutes since midnight
 */
export function wallClock(moment, zone) {
  const parts = Object.fromEntries(
    formatOf(zone).formatToParts(moment).map(({ type, value }) => [type, value]),
  );
  return {
    day: `${parts.year.padStart(4, "0")}-${parts.month}-${parts.day}`,
    minutes: Number(parts.hour) * 60 + Number(parts.minute),
  };
}

/**
 * The practice day of a moment: until `ends` the day before goes on.
 * @param {number} moment @param {string|undefined} zone @param {string} ends "HH:MM"
 */
export function practiceDay(moment, zone, ends) {
  const { day, minutes } = wallClock(moment, zone);
  return minutes < minutesOf(ends) ? plusDays(day, -1) : day;
}

/** @param {string} day @param {number} number */
export function plusDays(day, number) {
  const moved = new Date(`${day}T00:00:00Z`);
  moved.setUTCDate(moved.getUTCDate() + number);
  return moved.toISOString().slice(0, 10);
}

/** "HH:MM" in minutes since midnight. @param {string} time */
export function minutesOf(time) {
  const [hours, minutes] = time.split(":").map(Number);
  return hours * 60 + minutes;
}

/** Minutes since midnight as "00:30". @param {number} minutes */
export function timeWords(minutes) {
  const two = (/** @type {number} */ number) => String(number).padStart(2, "0");
  return `${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}

/** "Tuesday 3 March". @param {string} day @param {"day"|"weekday"|"year"} [how] "Tuesday", or "3 March 2031" */
export function dayWords(day, how = "day") {
  const date = new Date(`${day}T00:00:00Z`);
  const language = document.documentElement.lang || "en-GB";
  const part = (/** @type {Intl.DateTimeFormatOptions} */ wanted) =>
    new Intl.DateTimeFormat(language, { ...wanted, timeZone: "UTC" }).format(date);
  if (how === "weekday") return part({ weekday: "long" });
  const dayAndMonth = `${date.getUTCDate()} ${part({ month: "long" })}`;
  return how === "year" ? `${dayAndMonth} ${date.getUTCFullYear()}` : `${part({ weekday: "long" })} ${dayAndMonth}`;
}

/**
 * The days a check-in may be for, the newest first: some days back, and only where a block runs.
 * @param {string} newest @param {string} today @param {Days} days
 */
export function daysToFill(newest, today, { back, blocks }) {
  const found = [];
  for (let day = newest; day >= plusDays(today, -back); day = plusDays(day, -1)) {
    if (blocks.some(([first, last]) => first <= day && day <= last)) found.push(day);
  }
  return found;
}

/** What the page says about days. @param {string} id @returns {any} null where it says nothing */
export function factsOf(id) {
  const text = document.getElementById(id)?.textContent;
  return text ? JSON.parse(text) : null;
}

/** Whether this page comes from the phone and not from the server. */
export function isKept() {
  return document.documentElement.dataset.kept !== undefined;
}

/** @param {string} [zone] */
function formatOf(zone) {
  /** @type {Intl.DateTimeFormatOptions} */
  const wanted = {
    calendar: "gregory", numberingSystem: "latn", hourCycle: "h23",
    year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
  };
  try {
    return new Intl.DateTimeFormat("en", { ...wanted, timeZone: zone });
  } catch {
    // A phone that does not know the studio's zone goes by its own.
    return new Intl.DateTimeFormat("en", wanted);
  }
}

/** Sets a kept page to the day it is opened on. A clock that stands before the page's own day is not believed. */
function arrange() {
  const facts = isKept() ? (factsOf("practice-days") ?? factsOf("sessions-ahead")) : null;
  if (facts === null) return;
  const today = practiceDay(Date.now(), facts.zone, facts.ends);
  if (today <= facts.today) return;
  const isKnown = facts.days === undefined ? facts.ahead?.[today] !== undefined : today in facts.days;
  if (facts.days !== undefined) arrangeSession(facts, today);
  else if (isKnown) arrangeToday(facts.ahead[today], today);
  for (const notice of document.querySelectorAll("[data-old-page]")) notice.toggleAttribute("hidden", isKnown);
}

/** @param {{off: boolean, dynamics: string}} asked @param {string} today */
function arrangeToday(asked, today) {
  for (const old of document.querySelectorAll("[data-of-the-day]")) old.remove();
  write("[data-day-words]", dayWords(today));
  write("[data-dynamics]", asked.dynamics);
  const later = document.querySelector("[data-bar-later]");
  if (later instanceof HTMLTemplateElement) {
    document.querySelector("[data-bar]")?.replaceChildren(later.content.cloneNode(true));
  }
  const off = document.querySelector("template[data-day-off]");
  if (asked.off && off instanceof HTMLTemplateElement) document.querySelector(".card-part")?.before(off.content);
  document.querySelector("[data-not-today]")?.toggleAttribute("hidden", asked.off);
}

/** Hands the player the session of the day; one of another plan keeps what the page has, and the page says so. */
function arrangeSession(/** @type {any} */ { days, sessions }, /** @type {string} */ today) {
  const data = document.getElementById("session-data");
  if (data === null) return;
  const place = days[today] ?? null;
  const session = { ...JSON.parse(data.textContent ?? "{}"), ...(place === null ? {} : sessions[place]), day: today };
  data.textContent = JSON.stringify(session);
  write("[data-dynamics]", session.dynamic_today);
}

/** @param {string} selector @param {string} words */
function write(selector, words) {
  for (const place of document.querySelectorAll(selector)) place.textContent = words;
}

if (typeof document !== "undefined") arrange();
