/**
 * The audio clock: it says which second of the session it is, and hands clicks to the sound card a whole
 * cycle (hold and rest) ahead, each with its exact time. No page here, and no rule of the exercise.
 *
 * The audio clock leads. Where it is not allowed or stands still, the computer's steady clock takes over
 * at the very second reached, and gives the lead back when sound returns.
 *
 * @typedef {import("./position.js").Click} Click
 * @typedef {"off"|"soft"|"loud"} Level
 * @typedef {{seconds: number, from: number, stopped: boolean}} Reading
 */

/** Without movement of the audio clock for this long, in seconds, it has stalled. */
const STALL_SECONDS = 0.5;
/** From tap to first click, in seconds: time for the sound card to wake. */
const START_SECONDS = 0.15;
const PUMP_MILLISECONDS = 250;
/** Kept in hand beyond a cycle, in seconds: a hidden page's timers run only once a second. */
const SPARE_SECONDS = 2;

/**
 * How loud each click is, 0 to 1. The attack stands out; the counts of a hold are the quietest, so that
 * the note is heard and not the click; the release and the rest are plain, as nothing else sounds then.
 */
const LOUDNESS = { "count-in": 0.6, attack: 1, hold: 0.3, rest: 0.5, release: 0.75 };
/** How fast the one click is played, so how bright it is: bright for the attack, dark for the release. */
const BRIGHTNESS = { "count-in": 1, attack: 1.5, hold: 1, rest: 1, release: 0.7 };
/** The soft level is modest on purpose: it is also safe to begin with in headphones. */
const LEVELS = { off: 0, soft: 0.3, loud: 1 };

/**
 * @param {{ahead: number, makeContext: () => AudioContext, monotonic: () => number}} parts
 *   ahead: seconds of one cycle; monotonic: seconds that never run backwards
 */
export function createClock({ ahead, makeContext, monotonic }) {
  const self = {
    /** @type {AudioContext|null} */ context: null,
    /** @type {GainNode|null} */ output: null,
    /** @type {AudioBuffer|null} */ sound: null,
    /** @type {Level} */ level: /** @type {Level} */ ("soft"),
    /** @type {"audio"|"steady"} */ leader: /** @type {"audio"|"steady"} */ ("steady"),
    offset: 0,
    seen: { audio: 0, steady: 0 },
    /** @type {{from: number, clicks: Click[], next: number, limit: number}|null} */ run: null,
    /** @type {{source: AudioBufferSourceNode, seconds: number}[]} */ waiting: [],
    /** @type {ReturnType<typeof setInterval>|null} */ timer: null,
    starts: 0,
  };

  /** Begin a stretch: `from` in session seconds, its clicks in order, the first one being its first count. */
  async function start(/** @type {number} */ from, /** @type {Click[]} */ clicks) {
    self.starts += 1;
    const mine = self.starts;
    await wake();
    if (self.starts !== mine) return;
    const first = Math.min(from, clicks.length > 0 ? clicks[0].seconds : from);
    self.leader = audioRuns() ? "audio" : "steady";
    self.offset = leaderNow() + START_SECONDS - first;
    self.seen = { audio: self.context ? self.context.currentTime : 0, steady: monotonic() };
    self.run = { from, clicks, next: 0, limit: Infinity };
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

  function openSound() {
    self.context = makeContext();
    self.output = self.context.createGain();
    self.output.gain.value = LEVELS[self.level];
    self.output.connect(self.context.destination);
    self.sound = dryClick(self.context);
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
    if (self.context === null || self.output === null) return;
    const source = self.context.createBufferSource();
    const strength = self.context.createGain();
    source.buffer = self.sound;
    source.playbackRate.value = BRIGHTNESS[click.kind];
    strength.gain.value = LOUDNESS[click.kind];
    source.connect(strength).connect(self.output);
    source.start(self.offset + click.seconds);
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
    const { from, limit } = self.run;
    return { seconds: Math.min(seconds, limit), from, stopped: seconds >= limit };
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

  /** @param {Level} level */
  function setLevel(level) {
    self.level = level;
    if (self.output !== null) self.output.gain.value = LEVELS[level];
  }

  /** True while the session runs, the click is wanted, and none can be heard. */
  function isMute() {
    return self.run !== null && self.level !== "off" && self.leader === "steady";
  }

  return { start, wake, read, pump, stopAt, stop, setLevel, isMute };
}

/**
 * One click of 12 ms: noise that dies away, without a pitch that could pull the student's note. The noise is
 * a fixed row of numbers, so every click is the same.
 * @param {AudioContext} context
 */
function dryClick(context) {
  const length = Math.round(context.sampleRate * 0.012);
  const sound = context.createBuffer(1, length, context.sampleRate);
  const samples = sound.getChannelData(0);
  let seed = 1;
  for (let at = 0; at < length; at += 1) {
    seed = (seed * 16807) % 2147483647;
    samples[at] = ((seed / 2147483647) * 2 - 1) * Math.exp((-5 * at) / length);
  }
  return sound;
}
