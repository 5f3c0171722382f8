/**
 * The sound of the click: short buffers of noise, and one click laid on an exact time of an audio clock.
 * Noise has no pitch that could pull the student's note; a fixed row of numbers makes every click the same.
 *
 * @typedef {import("./position.js").Click} Click
 * @typedef {"tick"|"knock"|"brush"} Sound
 * @typedef {"bright"|"plain"|"dark"} Colour
 * @typedef {Record<Colour, AudioBuffer>} Buffers
 */

/**
 * How loud each click is, 0 to 1. The attack stands out; the counts of a hold are the quietest, so that
 * the note is heard and not the click; the rest is plain, as nothing else sounds then.
 */
const LOUDNESS = { "count-in": 0.6, attack: 1, hold: 0.3, rest: 0.5, release: 0.75 };
/** The rest has a colour of its own, so that the ear knows it without the eye. @type {Record<string, Colour>} */
const COLOURS = { "count-in": "plain", attack: "bright", hold: "plain", rest: "dark", release: "dark" };
/** Length and time of dying away in seconds, and up to which hertz each colour reaches; chosen by ear. */
const SOUNDS = {
  tick: { length: 0.012, fade: 0.0025, bright: 12000, plain: 6000, dark: 1800 },
  knock: { length: 0.03, fade: 0.006, bright: 3200, plain: 1800, dark: 800 },
  brush: { length: 0.07, fade: 0.018, bright: 9000, plain: 5000, dark: 2000 },
};
const PEAK = 0.9;

/** @param {BaseAudioContext} context @param {Sound} sound @returns {Buffers} */
export function makeBuffers(context, sound) {
  const { length, fade, ...reach } = SOUNDS[sound];
  const made = (/** @type {Colour} */ colour) => noise(context, length, fade, reach[colour]);
  return { bright: made("bright"), plain: made("plain"), dark: made("dark") };
}

/**
 * Hand one click to the sound card for a time of its own clock.
 * @param {BaseAudioContext} context @param {AudioNode} output @param {Buffers} buffers
 * @param {Click["kind"]} kind @param {number} when seconds of the audio clock
 */
export function layClick(context, output, buffers, kind, when) {
  const source = context.createBufferSource();
  const strength = context.createGain();
  source.buffer = buffers[COLOURS[kind]];
  strength.gain.value = LOUDNESS[kind];
  source.connect(strength).connect(output);
  source.start(when);
  return source;
}

/** Noise that begins at once, dies away and reaches up to `hertz`. */
function noise(
  /** @type {BaseAudioContext} */ context,
  /** @type {number} */ length,
  /** @type {number} */ fade,
  /** @type {number} */ hertz,
) {
  const rate = context.sampleRate;
  const buffer = context.createBuffer(1, Math.round(rate * length), rate);
  const samples = buffer.getChannelData(0);
  const share = 1 - Math.exp((-2 * Math.PI * hertz) / rate);
  let seed = 1;
  let level = 0;
  let peak = 0;
  for (let at = 0; at < samples.length; at += 1) {
    seed = (seed * 16807) % 2147483647;
    level += share * ((seed / 2147483647) * 2 - 1 - level);
    samples[at] = level * Math.exp(-at / (fade * rate));
    peak = Math.max(peak, Math.abs(samples[at]));
  }
  for (let at = 0; at < samples.length; at += 1) samples[at] *= PEAK / peak;
  return buffer;
}
