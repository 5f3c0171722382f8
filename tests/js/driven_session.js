/**
 * Drives the whole player on its own page in a time of its own: the steady clock, the audio clock, frames and
 * timers go on only when `pass` says so, thirty frames a second. What the page shows at each frame is noted
 * down: that is all the tests judge by.
 */
const FRAME = 1 / 30;
const BLOCK = 128 / 48000;

class World {
  constructor() {
    this.now = 50;
    this.audio = "running";
    this.frames = [];
    this.timers = [];
    this.contexts = [];
    this.shown = [];
    this.blank = document.querySelector("[data-player]").cloneNode(true);
    this.blank.hidden = true;
    this.blank.querySelector("[data-staves]").replaceChildren();
    this.main = document.querySelector("script[src*='/main.']").src;
    this.loads = 0;
    this.install();
  }

  install() {
    const world = this;
    performance.now = () => world.now * 1000;
    window.requestAnimationFrame = (doing) => world.frames.push(doing);
    window.setInterval = (doing, every) => world.timers.push({ doing, every: every / 1000, due: world.now + every / 1000 });
    window.clearInterval = () => {};
    window.setTimeout = () => 0;
    window.clearTimeout = () => {};
    window.AudioContext = class {
      constructor() {
        this.sampleRate = 48000;
        this.destination = {};
        this.opened = world.now;
        this.slept = 0;
        world.contexts.push(this);
      }
      get state() { return world.audio; }
      get currentTime() { return Math.floor((world.now - this.opened - this.slept) / BLOCK) * BLOCK; }
      resume() {
        world.sound("running");
        return Promise.resolve();
      }
      createGain() { return { gain: { value: 1 }, connect: (to) => to }; }
      createBuffer(_channels, length) { return { getChannelData: () => new Float32Array(length) }; }
      createBufferSource() { return { connect: (to) => to, start() {}, stop() {} }; }
    };
  }

  /** A call takes the sound away ("interrupted"), and gives it back. */
  sound(state) {
    if (this.audio === state) return;
    this.audio = state;
    for (const context of this.contexts) context.onstatechange?.();
  }

  /** Load the page anew: its parts begin again, its storage stays. */
  async load(session) {
    this.frames = [];
    this.timers = [];
    this.contexts = [];
    this.audio = "running";
    document.querySelector("[data-player]").replaceWith(this.blank.cloneNode(true));
    if (session) document.querySelector("#session-data").textContent = JSON.stringify(session);
    this.loads += 1;
    await import(`${this.main}?load=${this.loads}`);
    await this.settle();
    while (document.querySelector("[data-player]").hidden) await this.settle();
  }

  /** Let what has been asked for be done: no time passes. */
  async settle() {
    for (let turn = 0; turn < 20; turn += 1) await Promise.resolve();
    await new Promise((done) => { const { port1, port2 } = new MessageChannel(); port1.onmessage = done; port2.postMessage(0); });
  }

  pass(seconds) {
    const end = this.now + seconds;
    while (this.now < end - 1e-9) {
      const step = Math.min(FRAME, end - this.now);
      this.now += step;
      if (this.audio !== "running") for (const context of this.contexts) context.slept += step;
      for (const timer of this.timers) {
        if (timer.due > this.now) continue;
        timer.doing();
        timer.due = this.now + timer.every;
      }
      const due = this.hidden ? [] : this.frames.splice(0);
      for (const doing of due) doing(this.now * 1000);
      this.note();
    }
  }

  note() {
    const { view, phase, lit, side } = this.root.dataset;
    const place = document.querySelector("[data-place]").textContent;
    const last = this.shown[this.shown.length - 1];
    const same = last && last.view === view && last.phase === phase && last.place === place && last.lit === lit && last.side === side;
    if (!same) this.shown.push({ at: this.now, view, phase, lit, side, place });
  }

  get root() { return document.querySelector("[data-player]"); }
  get view() { return this.root.dataset.view; }

  hide(hidden) {
    this.hidden = hidden;
    Object.defineProperty(document, "visibilityState", { configurable: true, get: () => (hidden ? "hidden" : "visible") });
    document.dispatchEvent(new Event("visibilitychange"));
  }

  async tap(name) {
    const button = document.querySelector(`[data-do="${name}"]`);
    if (!button.checkVisibility()) return false;
    button.click();
    await this.settle();
    return true;
  }
}

/** Numbers from 0 to 1 that a seed gives, always the same. */
function seeded(seed) {
  let state = seed * 7919 + 17;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

/** Go through one session with whatever may happen to it; answer what was done and what was shown. */
async function wander(world, session, seed, actions) {
  const chance = seeded(seed);
  const pick = (all) => all[Math.floor(chance() * all.length)];
  const cycle = ((session.hold + session.rest) * 60) / session.tempo;
  const done = [];
  localStorage.clear();
  world.hide(false);
  world.shown = [];
  await world.load(session);
  const act = async (name) => {
    const from = world.now;
    if (name === "none") return;
    if (name === "hide") world.hide(true);
    else if (name === "show") world.hide(false);
    else if (name === "call") world.sound("interrupted");
    else if (name === "load") await world.load();
    else if (!(await world.tap(name))) return;
    done.push({ name, at: from });
  };
  await act("start");
  for (let turn = 0; turn < actions && world.view !== "ended"; turn += 1) {
    // A student taps at once, or after a while.
    world.pass(chance() * (chance() < 0.5 && world.view !== "running" ? 0.5 : cycle * 2));
    if (world.view === "running") {
      const name = pick(["pause", "pause", "hide", "call", "load", "none"]);
      await act(name);
      if (name === "hide") {
        world.pass(chance() * cycle * 1.5);
        await act("show");
        world.pass(chance() * cycle);
      }
      if (name === "call") world.pass(chance() * cycle * 1.5);
    } else {
      await act(pick(["carry-on", "carry-on", "again", "anew", "load"]));
    }
  }
  return { done, shown: world.shown, end: world.now };
}
