/**
 * A stand-in for the browser's audio, whose time the test moves. `heard` keeps every click: when it was
 * asked for, for which time, how strong, and whether it was taken back before it sounded.
 */
async function standIn(session) {
  const parts = document.querySelector("[data-player]").dataset;
  const { createClock } = await import(parts.clock);
  const { clicksFrom } = await import(parts.position);
  const BLOCK = 128 / 48000;
  const now = { steady: 100, audio: 0, allowed: true, stalled: false, asked: 0 };
  const heard = [];
  const outputs = [];

  class Context {
    constructor() {
      this.state = now.allowed ? "running" : "suspended";
      this.sampleRate = 48000;
      this.destination = {};
    }

    get currentTime() {
      return Math.floor(now.audio / BLOCK) * BLOCK;
    }

    resume() {
      if (!now.allowed) return new Promise(() => {});
      this.state = "running";
      return Promise.resolve();
    }

    createGain() {
      const node = { gain: { value: 1 }, connect: (to) => to };
      outputs.push(node);
      return node;
    }

    createBuffer(_channels, length) {
      return { getChannelData: () => new Float32Array(length) };
    }

    createBufferSource() {
      const click = { asked: this.currentTime, at: 0, begun: 0, strength: 0, stopped: false };
      return {
        playbackRate: { value: 1 },
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
  });

  return {
    clock,
    heard,
    start: () => clock.start(0, clicksFrom(session)),
    allow: (yes) => { now.allowed = yes; },
    stall: (yes) => { now.stalled = yes; },
    volume: () => outputs[0].gain.value,
    /** Let time pass; timers run four times a second, pictures are drawn ten times a second. */
    pass: (seconds) => {
      const end = now.steady + seconds;
      for (let tick = 1; now.steady < end - 1e-9; tick += 1) {
        const step = Math.min(0.05, end - now.steady);
        now.steady += step;
        if (!now.stalled && now.allowed) now.audio += step;
        if (tick % 5 === 0) clock.pump();
        if (tick % 2 === 0) clock.read();
      }
      clock.read();
    },
  };
}
