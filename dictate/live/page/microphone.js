// Runs on the browser's sound thread: the microphone's samples to 16 kHz, 16 bit, a tenth of a second at a time.
import { Resampler } from "/live/resampler.js";

const PIECE = 1600; // samples: 0.1 s

class Microphone extends AudioWorkletProcessor {
  constructor() {
    super();
    this.resampler = new Resampler(sampleRate);
    this.piece = new Int16Array(PIECE);
    this.filled = 0;
  }

  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) return true; // nothing is connected now; the page notices by the clock
    for (const sample of this.resampler.push(loudest(channels))) {
      this.piece[this.filled] = Math.max(-32768, Math.min(32767, Math.round(sample * 32768)));
      this.filled += 1;
      if (this.filled === PIECE) {
        this.port.postMessage({ samples: this.piece.buffer, at: Date.now() }, [this.piece.buffer]);
        this.piece = new Int16Array(PIECE);
        this.filled = 0;
      }
    }
    return true;
  }
}

// Of two channels the louder: a mean would halve a voice that is on one of them, or cancel it.
function loudest(channels) {
  if (channels.length === 1) return channels[0];
  let best = channels[0];
  let most = -1;
  for (const channel of channels) {
    let energy = 0;
    for (const sample of channel) energy += sample * sample;
    if (energy > most) [best, most] = [channel, energy];
  }
  return best;
}

registerProcessor("microphone", Microphone);
