/** Samples become a file: half as many where there are plenty, and a WAV of 16 bits. No page here. */

/** Nothing is halved to below this many samples a second. */
const LEAST_RATE = 16000;
/** Taps of the low-pass on either side of its middle: beyond a quarter of the rate it is 70 dB down. */
const REACH = 63;
/** Half-way down here, as a share of the rate: below the quarter where the new rate folds over. */
const CUT = 0.225;
const HEAD = 44;

/** @param {Float32Array[]} pieces */
export function joined(pieces) {
  const whole = new Float32Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
  }
  return whole;
}

/**
 * Bring samples to half their rate, once or more often, with a low-pass before each halving.
 * @param {Float32Array} samples @param {number} rate samples a second
 */
export function halved(samples, rate) {
  let [made, now] = [samples, rate];
  while (now / 2 >= LEAST_RATE) {
    made = everySecond(made);
    now /= 2;
  }
  return { samples: made, rate: now };
}

/** @param {Float32Array} samples @returns {Float32Array} */
function everySecond(samples) {
  const taps = lowPass();
  const made = new Float32Array(Math.floor(samples.length / 2));
  for (let at = 0; at < made.length; at += 1) {
    const first = 2 * at - REACH;
    let sum = 0;
    for (let tap = 0; tap < taps.length; tap += 1) {
      const from = first + tap;
      if (from >= 0 && from < samples.length) sum += taps[tap] * samples[from];
    }
    made[at] = sum;
  }
  return made;
}

/**
 * A sinc under a Blackman window (Oppenheim and Schafer, "Discrete-Time Signal Processing"), of sum 1, so
 * that no level changes; it is the same on both sides, so that nothing is shifted in time.
 */
function lowPass() {
  const taps = new Float64Array(2 * REACH + 1);
  for (let tap = 0; tap < taps.length; tap += 1) {
    const away = tap - REACH;
    const turn = (2 * Math.PI * (tap + 1)) / (taps.length + 1);
    const window = 0.42 - 0.5 * Math.cos(turn) + 0.08 * Math.cos(2 * turn);
    const sinc = away === 0 ? 2 * CUT : Math.sin(2 * Math.PI * CUT * away) / (Math.PI * away);
    taps[tap] = sinc * window;
  }
  const sum = taps.reduce((total, tap) => total + tap, 0);
  return taps.map((tap) => tap / sum);
}

/**
 * A WAV file of one channel (IBM and Microsoft, "Multimedia Programming Interface", 1991).
 * @param {Float32Array} samples @param {number} rate
 */
export function wav(samples, rate) {
  const bytes = new DataView(new ArrayBuffer(HEAD + 2 * samples.length));
  const word = (/** @type {number} */ at, /** @type {string} */ text) => {
    for (let letter = 0; letter < text.length; letter += 1) bytes.setUint8(at + letter, text.charCodeAt(letter));
  };
  word(0, "RIFF");
  bytes.setUint32(4, HEAD - 8 + 2 * samples.length, true);
  word(8, "WAVEfmt ");
  bytes.setUint32(16, 16, true);
  bytes.setUint16(20, 1, true);
  bytes.setUint16(22, 1, true);
  bytes.setUint32(24, rate, true);
  bytes.setUint32(28, 2 * rate, true);
  bytes.setUint16(32, 2, true);
  bytes.setUint16(34, 16, true);
  word(36, "data");
  bytes.setUint32(40, 2 * samples.length, true);
  samples.forEach((sample, at) => {
    bytes.setInt16(HEAD + 2 * at, Math.round(Math.max(-1, Math.min(1, sample)) * 32767), true);
  });
  return new Blob([bytes.buffer], { type: "audio/wav" });
}
