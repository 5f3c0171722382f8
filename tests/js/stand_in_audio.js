/**
 * A stand-in for the browser's audio, whose time the test moves. `heard` keeps every click: when it was
 * asked for, for which time, how strong, and whether it was taken back before it sounded.
 */
function standIn(session, { position, click, clock: { createClock } }) {
  const BLOCK = 128 / 48000;
  const now = { steady: 100, audio: 0, allowed: true, stalled: false, interruptions: 0 };
  const heard = [];
  const outputs = [];

  class Context {
    constructor() {
      this.state = now.allowed ? "running" : "suspended";
      now.context = this;
      this.sampleRate = 48000;
      this.destination = {};
    }

    get currentTime() {
      return Math.floor(now.audio / BLOCK) * BLOCK;
    }

    resume() {
      if (!now.allowed) return new Promise(() => {});
      this.turn("running");
      return Promise.resolve();
    }

    turn(state) {
      this.state = state;
      this.onstatechange?.();
    }

    suspend() {
      this.turn("suspended");
      return Promise.resolve();
    }

    createGain() {
      const node = { gain: { value: 1 }, connect: (to) => to };
      outputs.push(node);
      return node;
    }

    createBuffer(_channels, length) {
      const samples = new Float32Array(length);
      return { getChannelData: () => samples };
    }

    createBufferSource() {
      const click = { asked: this.currentTime, at: 0, begun: 0, strength: 0, stopped: false };
      return {
        connect: (gain) => {
          click.strength = gain.gain.value;
          return gain;
        },
        start: (at) => {
          click.at = at;
          click.begun = now.steady + (at - now.audio);
          heard.push(click);
        },
        stop: () => {
          if (click.at > now.audio) click.stopped = true;
        },
      };
    }
  }

  const clock = createClock({
    ahead: ((session.hold + session.rest) * 60) / session.tempo,
    makeContext: () => new Context(),
    monotonic: () => now.steady,
    interrupted: () => { now.interruptions += 1; },
    click,
  });

  return {
    clock,
    heard,
    start: () => clock.start({ from: 0, lead: session.count_in }, position.clicksFrom(session)),
    interrupt: () => now.context.turn("interrupted"),
    state: () => now.context?.state ?? "none",
    interruptions: () => now.interruptions,
    allow: (yes) => { now.allowed = yes; },
    stall: (yes) => { now.stalled = yes; },
    volume: () => outputs[0].gain.value,
    /** Let time pass; timers run four times a second, pictures are drawn ten times a second. */
    pass: (seconds) => {
      const end = now.steady + seconds;
      for (let tick = 1; now.steady < end - 1e-9; tick += 1) {
        const step = Math.min(0.05, end - now.steady);
        now.steady += step;
        if (!now.stalled && now.allowed && now.context?.state === "running") now.audio += step;
        if (tick % 5 === 0) clock.pump();
        if (tick % 2 === 0) clock.read();
      }
      clock.read();
    },
  };
}
