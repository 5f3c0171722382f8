/**
 * The audio clock: it says which second of the session it is, and hands clicks to the sound card a whole
 * cycle (hold and rest) ahead, each with its exact time. No page here, and no rule of the exercise.
 *
 * The audio clock leads. Where it is not allowed or stands still, the computer's steady clock takes over
 * at the very second reached, and gives the lead back when sound returns.
 *
 * @typedef {import("./position.js").Click} Click
 * @typedef {import("./position.js").Stretch} Stretch
 * @typedef {import("./click.js").Sound} Sound
 * @typedef {import("./click.js").Buffers} Buffers
 * @typedef {"off"|Sound} Choice
 * @typedef {"soft"|"middle"|"loud"} Level
 * @typedef {{seconds: number, past: number, stretch: Stretch, stopped: boolean}} Reading
 *   past: seconds run on beyond a stop that was asked for
 */

/** Without movement of the audio clock for this long, in seconds, it has stalled. */
const STALL_SECONDS = 0.5;
/** From tap to first click, in seconds: time for the sound card to wake. */
const START_SECONDS = 0.15;
const PUMP_MILLISECONDS = 250;
/** Kept in hand beyond a cycle, in seconds: a hidden page's timers run only once a second. */
const SPARE_SECONDS = 2;

/** The soft level is modest on purpose: it is also safe to begin with in headphones. */
const LEVELS = { soft: 0.25, middle: 0.5, loud: 1 };
/** A click to try out a sound with, in seconds from the tap. */
const TASTE_SECONDS = 0.05;

/**
 * @param {{ahead: number, makeContext: () => AudioContext, monotonic: () => number, interrupted: () => void,
 *   click: typeof import("./click.js")}} parts
 *   ahead: seconds of one cycle; monotonic: seconds that never run backwards; interrupted: told when
 *   something else, such as a call, takes the sound away while the session runs
 */
export function createClock({ ahead, makeContext, monotonic, interrupted, click: { makeBuffers, layClick } }) {
  const self = {
    /** @type {AudioContext|null} */ context: null,
    /** @type {GainNode|null} */ output: null,
    /** @type {Buffers|null} */ buffers: null,
    /** @type {Choice} */ choice: /** @type {Choice} */ ("tick"),
    /** @type {Level} */ level: /** @type {Level} */ ("soft"),
    ran: false,
    /** @type {"audio"|"steady"} */ leader: /** @type {"audio"|"steady"} */ ("steady"),
    offset: 0,
    seen: { audio: 0, steady: 0 },
    /** @type {{stretch: Stretch, clicks: Click[], next: number, limit: number}|null} */ run: null,
    /** @type {{source: AudioBufferSourceNode, seconds: number}[]} */ waiting: [],
    /** @type {ReturnType<typeof setInterval>|null} */ timer: null,
    starts: 0,
  };

  /** Begin a stretch with its clicks in order; the first click is its first count. */
  async function start(/** @type {Stretch} */ stretch, /** @type {Click[]} */ clicks) {
    self.starts += 1;
    const mine = self.starts;
    await wake();
    if (self.starts !== mine) return;
    const first = Math.min(stretch.from, clicks.length > 0 ? clicks[0].seconds : stretch.from);
    self.leader = audioRuns() ? "audio" : "steady";
    self.offset = leaderNow() + START_SECONDS - first;
    self.seen = { audio: self.context ? self.context.currentTime : 0, steady: monotonic() };
    self.run = { stretch, clicks, next: 0, limit: Infinity };
    self.timer = setInterval(pump, PUMP_MILLISECONDS);
    pump();
  }

  /** Ask for sound; answers within a moment whether it came or not. Call it from a tap. */
  async function wake() {
    try {
      if (self.context === null || self.context.state === "closed") openSound();
      const moment = new Promise((done) => { setTimeout(done, STALL_SECONDS * 1000); });
      if (!audioRuns()) await Promise.race([self.context?.resume(), moment]);
    } catch {
      self.leader = "steady";
    }
  }

  /**
   * Make ready what sounds while nobody waits for it: on a slow phone that takes longer than a tap may. It
   * stays still until a tap asks for sound, as sound that runs holds the phone's loudspeaker.
   */
  function openEarly() {
    try {
      if (self.context === null) openSound();
      if (self.run === null && self.starts === 0 && audioRuns()) self.context?.suspend().catch(() => {});
    } catch {
      // The tap tries again.
    }
  }

  function openSound() {
    self.context = makeContext();
    self.context.onstatechange = noticeState;
    self.output = self.context.createGain();
    self.output.connect(self.context.destination);
    self.ran = false;
    noticeState();
    prepare();
  }

  /** Sound that ran and was taken away is a call or the like; sound that never came is not. */
  function noticeState() {
    if (audioRuns()) self.ran = true;
    else if (self.ran && self.run !== null) interrupted();
  }

  function prepare() {
    if (self.context === null || self.output === null) return;
    self.output.gain.value = self.choice === "off" ? 0 : LEVELS[self.level];
    // A click that is off is handed over too, silent, so that it can be turned on in the middle of a cycle.
    self.buffers = makeBuffers(self.context, self.choice === "off" ? "tick" : self.choice);
  }

  function audioRuns() {
    return self.context !== null && self.context.state === "running";
  }

  function leaderNow() {
    return self.leader === "audio" && self.context !== null ? self.context.currentTime : monotonic();
  }

  /** Keep the leader honest: hand the lead over, at the second reached, when audio stalls or returns. */
  function settle() {
    if (self.context === null) return;
    const now = { audio: self.context.currentTime, steady: monotonic() };
    const moved = now.audio !== self.seen.audio;
    const stalled = !audioRuns() || (!moved && now.steady - self.seen.steady > STALL_SECONDS);
    if (self.leader === "audio" && stalled) {
      const reached = self.seen.audio - self.offset;
      self.leader = "steady";
      self.offset = self.seen.steady - reached;
      drop(-Infinity);
    } else if (self.leader === "steady" && audioRuns() && moved) {
      self.offset = now.audio - (now.steady - self.offset);
      self.leader = "audio";
    }
    if (moved) self.seen = now;
  }

  /** Hand over every click of the coming cycle that is not yet with the sound card. */
  function pump() {
    if (self.run === null) return;
    settle();
    const now = leaderNow() - self.offset;
    self.waiting = self.waiting.filter((click) => click.seconds > now - 1);
    const { clicks, limit } = self.run;
    while (self.run.next < clicks.length && clicks[self.run.next].seconds <= Math.min(limit, now + ahead + SPARE_SECONDS)) {
      const click = clicks[self.run.next];
      if (self.leader === "steady" && click.seconds > now) break;
      if (self.leader === "audio" && click.seconds >= now) handOver(click);
      self.run.next += 1;
    }
  }

  function handOver(/** @type {Click} */ click) {
    if (self.context === null || self.output === null || self.buffers === null) return;
    const source = layClick(self.context, self.output, self.buffers, click.kind, self.offset + click.seconds);
    self.waiting.push({ source, seconds: click.seconds });
  }

  /** Take back the clicks after this second that have not sounded yet. */
  function drop(/** @type {number} */ after) {
    const taken = self.waiting.filter((click) => click.seconds > after + 1e-6);
    for (const click of taken) click.source.stop();
    self.waiting = self.waiting.filter((click) => !taken.includes(click));
    if (self.run !== null && taken.length > 0) self.run.next -= taken.length;
  }

  /** The second reached; `stopped` once a stop asked for with `stopAt` has been reached. */
  function read() {
    if (self.run === null) return null;
    settle();
    const seconds = leaderNow() - self.offset;
    const { stretch, limit } = self.run;
    const past = Math.max(0, seconds - limit);
    return { seconds: seconds - past, past, stretch, stopped: seconds >= limit };
  }

  /** Let the session run to this second and no further; the click on that very second still sounds. */
  function stopAt(/** @type {number} */ seconds) {
    if (self.run === null) return;
    self.run.limit = seconds;
    drop(seconds);
  }

  /** Stop now, also a start that still waits for sound. @returns {Reading|null} the second reached, or null when nothing was running */
  function stop() {
    const reached = read();
    self.starts += 1;
    drop(-Infinity);
    if (self.timer !== null) clearInterval(self.timer);
    self.timer = null;
    self.run = null;
    return reached;
  }

  /** Choose sound and loudness; clicks that wait already are handed over anew. */
  function choose(/** @type {Choice} */ choice, /** @type {Level} */ level) {
    const other = choice !== self.choice;
    Object.assign(self, { choice, level });
    prepare();
    if (!other || self.run === null) return;
    drop(leaderNow() - self.offset);
    pump();
  }

  /** Let one click be heard, to judge its sound by. Call it from a tap. */
  async function taste() {
    if (self.choice === "off") return;
    await wake();
    const { context, output, buffers } = self;
    if (context === null || output === null || buffers === null || !audioRuns()) return;
    layClick(context, output, buffers, "attack", context.currentTime + TASTE_SECONDS);
  }

  /** True while the session runs, the click is wanted, and none can be heard. */
  function isMute() {
    return self.run !== null && self.choice !== "off" && self.leader === "steady";
  }

  return { openEarly, start, wake, read, pump, stopAt, stop, choose, taste, isMute, canSound: audioRuns };
}
