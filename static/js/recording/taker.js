/**
 * Runs beside the page on the sound's own thread: hands on every sample, as one channel.
 * Several channels are averaged, so that two of the same are no louder than one.
 */
class Taker extends AudioWorkletProcessor {
  /** @param {Float32Array[][]} inputs */
  process([channels]) {
    if (channels.length > 0) {
      const samples = Float32Array.from(channels[0]);
      for (const channel of channels.slice(1)) {
        for (let at = 0; at < samples.length; at += 1) samples[at] += channel[at];
      }
      if (channels.length > 1) {
        for (let at = 0; at < samples.length; at += 1) samples[at] /= channels.length;
      }
      this.port.postMessage(samples, [samples.buffer]);
    }
    return true;
  }
}

registerProcessor("taker", Taker);
