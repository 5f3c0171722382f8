/**
 * Wiring only: reads the session, fetches the parts and joins them. The addresses of the parts stand in the
 * page, so that each may carry its hash in its name; no part imports another.
 *
 * @typedef {import("./position.js").Session} Session
 * @typedef {import("./position.js").Position} Position
 * @typedef {import("./result.js").Stopped} Stopped
 * @typedef {import("./settings.js").Settings} Settings
 */

const PARTS = [
  "position", "course", "result", "words", "click", "clock", "beat", "screen", "settings", "memory", "wake", "hurt", "outbox",
];
const READING_MILLISECONDS = 3000;
/** The page stands by then. */
const SETTLED_MILLISECONDS = 300;
const STILL = { lit: "still", side: "none" };
/** An address that ends so has been reached by a tap on "Start". */
const TAPPED = "#start";

/**
 * @param {HTMLElement} root @param {Session} session @param {import("./words.js").Words} words
 * @param {any} parts the modules by name
 */
function play(root, session, words, parts) {
  const { positionAt, clicksFrom, stepAt, holdEnd, sessionSeconds, countSeconds } = parts.position;
  const { newCourse, begin, notesHeld, mark, lastNoteUp } = parts.course;
  const now = () => performance.now() / 1000;
  const screen = parts.screen.createScreen(root, session, words, parts.words.fill);
  const memory = parts.memory.createMemory(session);
  const wake = parts.wake.createWake((/** @type {boolean} */ asleep) => screen.mayDoze(asleep));
  const clock = parts.clock.createClock({
    ahead: (session.hold + session.rest) * countSeconds(session),
    makeContext: () => new AudioContext({ latencyHint: "interactive" }),
    monotonic: now,
    interrupted: leave,
    click: parts.click,
  });
  const settings = parts.settings.createSettings(root.querySelector("[data-panel]"), follow);
  const left = /** @type {import("./course.js").Course|null} */ (memory.find(now()));
  const self = {
    course: left ?? newCourse(),
    soFar: left ?? newCourse(),
    drawn: { phase: "", count: "" },
    goingUp: -1,
    leaving: 0,
    over: false,
  };
  const token = () => /** @type {HTMLInputElement} */ (root.querySelector("[name=csrfmiddlewaretoken]")).value;

  async function run(/** @type {number} */ index) {
    const { stretch, course } = begin(session, self.course, index, now());
    Object.assign(self, { course, soFar: course, drawn: { phase: "", count: "" } });
    const first = stretch.from - stretch.lead * countSeconds(session);
    screen.run();
    screen.draw(positionAt(session, first, stretch), { top: null, nextUp: null, judged: null });
    screen.focus("pause");
    wake.hold();
    await clock.start(stretch, clicksFrom(session, stretch));
    requestAnimationFrame(frame);
  }

  /** One picture. A fault in here stops the timer and keeps the place; it never starts again by itself. */
  function frame() {
    try {
      const reading = clock.read();
      if (reading === null) return;
      const place = positionAt(session, reading.seconds, reading.stretch);
      if (place.phase === "done") return finish("all");
      if (reading.stopped) return pause(words.left);
      keepPlace(place, reading);
      screen.draw(place, offerAt(place));
      beat(place);
      screen.mute(clock.isMute());
      requestAnimationFrame(frame);
    } catch {
      pause(words.timer_stopped);
    }
  }

  /** Once a phase: what would be so if the page went away now is kept on the phone. */
  function keepPlace(/** @type {Position} */ place, /** @type {import("./course.js").Reading} */ reading) {
    const phase = `${place.phase} ${place.index} ${place.leading}`;
    if (self.drawn.phase === phase) return;
    self.drawn.phase = phase;
    self.soFar = parts.course.halt(session, self.course, reading, now());
    memory.keep(self.soFar);
  }

  function offerAt(/** @type {Position} */ place) {
    const step = session.steps[place.index];
    const resting = place.phase === "rest" && !place.leading;
    const top = step.part === "up" ? lastNoteUp(session, self.soFar) : null;
    const goesUp = resting && top !== null && place.coming !== null && self.goingUp !== place.index;
    return {
      top,
      nextUp: goesUp ? session.steps[Number(place.coming)] : null,
      judged: resting && settings.now().judge ? step : null,
      said: self.course.marks[place.index],
    };
  }

  function beat(/** @type {Position} */ place) {
    const { flash, buzz } = settings.now();
    screen.beat(flash ? parts.beat.beatAt(place, session.tempo) : STILL);
    const count = `${self.drawn.phase} ${place.count}`;
    if (self.drawn.count === count) return;
    self.drawn.count = count;
    if (buzz && parts.beat.canBuzz()) parts.beat.buzz(place);
  }

  function halt() {
    const reading = clock.stop();
    if (reading === null) return;
    self.course = parts.course.halt(session, self.course, reading, now());
    memory.keep(self.course);
  }

  function pause(/** @type {string} */ message) {
    halt();
    const { next, again, played } = self.course;
    const step = session.steps[next];
    screen.pause({
      next: step,
      again: played.length > 0 && again !== next ? session.steps[again] : null,
      top: step.part === "up" ? lastNoteUp(session, self.course) : null,
    }, message);
    screen.focus("carry-on");
  }

  /** From the first note, and still not before the rest is over. */
  function startAnew() {
    self.course = { ...newCourse(), quietSince: self.course.quietSince };
    return run(0);
  }

  function resultOf(/** @type {Stopped} */ stopped, /** @type {number|null} */ highNote) {
    const held = notesHeld(session, self.course.played);
    return parts.result.resultOf(session, self.course, held, stopped, highNote, new Date());
  }

  function store(/** @type {import("./result.js").Result} */ result) {
    try {
      sessionStorage.setItem("filar.session", JSON.stringify(result));
    } catch {
      // Without room the check-in opens with these answers unset, which is true.
    }
  }

  function finish(/** @type {Stopped} */ stopped) {
    halt();
    const highest = stopped === "stopped" ? null : lastNoteUp(session, self.course);
    const top = stopped === "top" ? highest : null;
    self.over = true;
    wake.release();
    memory.forget();
    const result = resultOf(stopped, highest?.written ?? null);
    store(result);
    const ended = stopped === "stopped" ? words.stopped : words.done;
    screen.end(ended, parts.words.playedWords(words, result), top);
    screen.focus("title");
    if (top === null) self.leaving = setTimeout(checkIn, READING_MILLISECONDS);
  }

  /** Why it ended on the last good note, and on to the check-in. */
  function because(/** @type {import("./result.js").Because} */ reason) {
    const { written } = lastNoteUp(session, self.course);
    store({ ...resultOf("top", written), stopped_because: reason });
    checkIn();
  }

  function checkIn() {
    location.assign(root.dataset.checkIn ?? "");
  }

  function judge(/** @type {import("./course.js").Mark} */ said) {
    const reading = clock.read();
    if (reading === null) return;
    const { index, phase, leading } = positionAt(session, reading.seconds, reading.stretch);
    if (phase !== "rest" || leading) return;
    self.course = mark(self.course, index, said);
    self.soFar = mark(self.soFar, index, said);
    memory.keep(self.soFar);
  }

  /** The last one was good, so on to the next: after the whole rest, as without a tap. */
  function nextUp() {
    judge("good");
    const reading = clock.read();
    if (reading !== null) self.goingUp = stepAt(session, reading.seconds).index;
    screen.focus("pause");
  }

  async function hurt() {
    clearTimeout(self.leaving);
    halt();
    const { played, next, again } = self.course;
    const step = played.length > 0 ? again : next;
    wake.release();
    memory.forget();
    if (played.length > 0 && !self.over) store(resultOf("stopped", null));
    self.over = true;
    const say = (/** @type {"sent"|"kept"|"lost"} */ what) => screen.hurt(words.hurt[what]);
    screen.hurt(words.hurt.telling);
    screen.focus("title");
    const { student, day } = session;
    const report = { key: crypto.randomUUID(), student, url: root.dataset.report, day, step };
    say(await parts.hurt.tellTeacher(report, parts.outbox, token(), () => say("kept")));
  }

  /** A hidden page or a call ends the hold and waits there; a rest or a count-in waits at once. */
  function leave() {
    const reading = clock.read();
    if (reading === null) return;
    const holding = positionAt(session, reading.seconds, reading.stretch).phase === "hold";
    clock.stopAt(holding ? holdEnd(stepAt(session, reading.seconds)) : reading.seconds);
  }

  function leaveOrReturn() {
    if (document.visibilityState !== "visible") leave();
    else if (wake.isWanted()) wake.hold();
  }

  function follow(/** @type {Settings} */ { click, loudness, size, pitch, buzz }, /** @type {string} */ changed) {
    clock.choose(click, loudness);
    screen.prefer(size, pitch);
    if (["click", "loudness"].includes(changed) && clock.read() === null) clock.taste();
    if (changed === "buzz" && buzz && parts.beat.canBuzz()) navigator.vibrate(60);
  }

  const doings = {
    start: startAnew,
    anew: startAnew,
    pause: () => pause(""),
    "carry-on": () => run(self.course.next),
    again: () => run(self.course.again),
    stop: () => finish("stopped"),
    top: () => finish("top"),
    "next-up": nextUp,
    good: () => judge("good"),
    "not-yet": () => judge("not yet"),
    sound: () => because("sound"),
    tired: () => because("tired"),
    time: () => because("time"),
    hurt,
    unmute: () => clock.wake(),
  };
  for (const [name, doing] of Object.entries(doings)) {
    root.querySelector(`[data-do="${name}"]`)?.addEventListener("click", doing);
  }
  document.addEventListener("visibilitychange", leaveOrReturn);
  follow(settings.now(), "");
  screen.ready(parts.words.lengthWords(words, session, sessionSeconds(session)), parts.beat.canBuzz());
  if (left !== null) screen.found(session.steps[left.next]);
  parts.outbox.flush().catch(() => []);
  if (location.hash === TAPPED) beginAfterTap();
  else setTimeout(clock.openEarly, SETTLED_MILLISECONDS);

  /** "Start" on the page before was the tap: begin if the sound may begin too, and never on a page loaded anew. */
  async function beginAfterTap() {
    history.replaceState(null, "", location.pathname + location.search);
    if (left !== null) return;
    await clock.wake();
    if (clock.canSound() && root.dataset.view === "ready") startAnew();
  }
}

async function begin() {
  const root = /** @type {HTMLElement} */ (document.querySelector("[data-player]"));
  const problem = /** @type {HTMLElement} */ (document.querySelector("[data-problem]"));
  const read = (/** @type {string} */ id) => JSON.parse(document.getElementById(id)?.textContent ?? "");
  try {
    const [session, words] = [read("session-data"), read("player-words")];
    const modules = await Promise.all(PARTS.map((name) => import(root.dataset[name] ?? "")));
    play(root, session, words, Object.fromEntries(PARTS.map((name, at) => [name, modules[at]])));
    problem.hidden = true;
  } catch (error) {
    root.hidden = true;
    problem.dataset.now = "";
    throw error;
  }
}

begin();
