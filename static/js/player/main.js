/**
 * Wiring only: reads the session, fetches the parts and joins them. The addresses of the parts stand in the
 * page, so that each may carry its hash in its name; no part imports another.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./result.js").Stopped} Stopped
 */

const PARTS = ["position", "result", "clock", "screen", "wake", "hurt"];
const LEVELS = /** @type {const} */ (["soft", "loud", "off"]);
const READING_MILLISECONDS = 3000;

/** @param {HTMLElement} root @param {Session} session @param {any} parts the six modules by name */
function play(root, session, parts) {
  const { positionAt, clicksFrom, carryOn, lastNoteUp, stepAt, holdEnd, sessionSeconds } = parts.position;
  const screen = parts.screen.createScreen(root, session);
  const wake = parts.wake.createWake((/** @type {boolean} */ asleep) => screen.mayDoze(asleep));
  const clock = parts.clock.createClock({
    ahead: ((session.hold + session.rest) * 60) / session.tempo,
    makeContext: () => new AudioContext({ latencyHint: "interactive" }),
    monotonic: () => performance.now() / 1000,
  });
  const self = {
    /** @type {import("./result.js").Stretch[]} */ stretches: [],
    kept: { seconds: 0, from: 0 },
    level: 0,
    leaving: 0,
    over: false,
  };
  const token = () => /** @type {HTMLInputElement} */ (root.querySelector("[name=csrfmiddlewaretoken]")).value;

  async function run(/** @type {number} */ from, /** @type {number} */ lead) {
    self.kept = { seconds: from - (lead * 60) / session.tempo, from };
    screen.run();
    screen.draw(positionAt(session, self.kept.seconds, from), null);
    screen.focus("pause");
    wake.hold();
    await clock.start(from, clicksFrom(session, from, lead));
    requestAnimationFrame(frame);
  }

  /** One picture. A fault in here stops the timer and keeps the place; it never starts again by itself. */
  function frame() {
    try {
      const reading = clock.read();
      if (reading === null) return;
      const place = positionAt(session, reading.seconds, reading.from);
      if (place.phase === "done") return finish("all", null);
      if (reading.stopped) return pause("You left this page. Your place is kept.");
      screen.draw(place, lastNoteUp(session, place));
      screen.mute(clock.isMute());
      requestAnimationFrame(frame);
    } catch {
      pause("The timer stopped. Your place is kept.");
    }
  }

  function halt() {
    const reading = clock.stop();
    if (reading === null) return;
    self.kept = { seconds: reading.seconds, from: reading.from };
    const to = Math.min(reading.seconds, sessionSeconds(session));
    if (to > reading.from) self.stretches.push({ from: reading.from, to });
  }

  function pause(/** @type {string} */ message) {
    halt();
    screen.pause(noteKept(), message);
    screen.focus("carry-on");
  }

  /** The note that was being played, or in a rest the one just played. */
  function noteKept() {
    return session.steps[positionAt(session, self.kept.seconds, self.kept.from).index];
  }

  function resume() {
    const { from, lead } = carryOn(session, self.kept.seconds, self.kept.from);
    const last = self.stretches[self.stretches.length - 1];
    // The rest was taken in full, and more: its remaining counts belong to the session.
    if (last !== undefined && from > last.to) last.to = from;
    return run(from, lead);
  }

  function store(/** @type {Stopped} */ stopped, /** @type {number|null} */ lastGoodNote) {
    const result = parts.result.resultOf(session, self.stretches, stopped, lastGoodNote, new Date());
    try {
      sessionStorage.setItem("filar.session", JSON.stringify(result));
    } catch {
      // Without room the check-in opens with these answers unset, which is true.
    }
    return result;
  }

  function finish(/** @type {Stopped} */ stopped, /** @type {number|null} */ lastGoodNote) {
    halt();
    self.over = true;
    wake.release();
    const result = store(stopped, lastGoodNote);
    screen.end(stopped === "stopped" ? "Stopped here." : "Done.", playedWords(result));
    screen.focus("title");
    self.leaving = setTimeout(() => location.assign(root.dataset.checkIn ?? ""), READING_MILLISECONDS);
  }

  function top() {
    const reading = clock.read();
    if (reading === null) return;
    const step = lastNoteUp(session, positionAt(session, reading.seconds, reading.from));
    if (step !== null) finish("top", step.written);
  }

  async function hurt() {
    clearTimeout(self.leaving);
    const reading = clock.read() ?? self.kept;
    const step = positionAt(session, reading.seconds, reading.from).index;
    halt();
    wake.release();
    if (self.stretches.length > 0 && !self.over) store("stopped", null);
    self.over = true;
    screen.hurt("Telling your teacher now.");
    screen.focus("title");
    const report = { url: root.dataset.report, key: crypto.randomUUID(), day: session.day, step: String(step) };
    screen.hurt(HURT_WORDS[/** @type {"sent"|"kept"|"lost"} */ (await parts.hurt.tellTeacher(report, token()))]);
  }

  function nextLevel() {
    self.level = (self.level + 1) % LEVELS.length;
    clock.setLevel(LEVELS[self.level]);
    screen.level(LEVELS[self.level]);
  }

  /** A hidden page ends the hold and waits there; a rest or a count-in waits at once. */
  function leaveOrReturn() {
    if (document.visibilityState === "visible") {
      if (wake.isWanted()) wake.hold();
      return;
    }
    const reading = clock.read();
    if (reading === null) return;
    const holding = positionAt(session, reading.seconds, reading.from).phase === "hold";
    clock.stopAt(holding ? holdEnd(stepAt(session, reading.seconds)) : reading.seconds);
  }

  const doings = {
    start: () => run(0, session.count_in),
    pause: () => pause(""),
    "carry-on": resume,
    again: () => run(noteKept().start, session.count_in),
    stop: () => finish("stopped", null),
    top,
    hurt,
    level: nextLevel,
    unmute: () => clock.wake(),
  };
  for (const [name, doing] of Object.entries(doings)) {
    root.querySelector(`[data-do="${name}"]`)?.addEventListener("click", doing);
  }
  document.addEventListener("visibilitychange", leaveOrReturn);
  screen.ready(lengthWords(session, sessionSeconds(session)));
  parts.hurt.tellWaiting(token());
}

const HURT_WORDS = {
  sent: "Thanks for saying so. Rest today. Your teacher has been told. Your plan stays where it is until you two have talked.",
  kept: "Saved on this phone. Tell a grown-up or your teacher now.",
  lost: "This phone could not save it. Tell a grown-up or your teacher now.",
};

/** @param {Session} session @param {number} seconds */
function lengthWords(session, seconds) {
  const minutes = Math.max(1, Math.round(seconds / 60));
  const time = `${minutes} ${minutes === 1 ? "minute" : "minutes"}`;
  const notes = notesWords(session.steps.length);
  return session.top_is_open ? `Up to ${notes} and ${time}. You choose the top.` : `${notes}. About ${time}.`;
}

/** @param {import("./result.js").Result} result */
function playedWords(result) {
  const seconds = Math.round(result.seconds);
  const minutes = Math.floor(seconds / 60);
  const time = minutes > 0 ? `${minutes} min ${seconds % 60} s` : `${seconds} s`;
  return `${notesWords(result.notes_played)}, ${time}.`;
}

/** @param {number} count */
function notesWords(count) {
  return count === 1 ? "1 note" : `${count} notes`;
}

async function begin() {
  const root = /** @type {HTMLElement} */ (document.querySelector("[data-player]"));
  const problem = /** @type {HTMLElement} */ (document.querySelector("[data-problem]"));
  const data = document.querySelector("#session-data");
  try {
    const session = JSON.parse(data?.textContent ?? "");
    const modules = await Promise.all(PARTS.map((name) => import(root.dataset[name] ?? "")));
    play(root, session, Object.fromEntries(PARTS.map((name, at) => [name, modules[at]])));
    problem.hidden = true;
  } catch (error) {
    root.hidden = true;
    problem.dataset.now = "";
    throw error;
  }
}

begin();
