// Any rate of sound to 16 kHz, block by block: a Kaiser-windowed sinc, one set of weights for each place that an output
// sample can have between input samples. Source: A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing,
// chapters 4 and 7 (from memory).

const ZERO_CROSSINGS = 24; // of the sinc on each side: a longer filter has a steeper edge
const BETA = 9; // of the window: aliases are some 90 dB down
const PASSED = 0.94; // of the lower of the two bands

export class Resampler {
  constructor(fromHz, toHz = 16000) {
    const common = greatestDivisor(Math.round(fromHz), toHz);
    this.up = toHz / common; // output places between two input samples that coincide with one
    this.down = Math.round(fromHz) / common;
    const band = Math.min(1, toHz / fromHz) * PASSED;
    this.reach = Math.ceil(ZERO_CROSSINGS / band);
    this.weights = [];
    for (let phase = 0; phase < this.up; phase += 1) this.weights.push(weightsOf(phase / this.up, band, this.reach));
    this.kept = new Float32Array(this.reach); // silence before the first sample, so that times fit
    this.at = 0; // place of the next output in `kept` + input, in 1/up samples
  }

  // Return the samples that are complete now; the filter looks `reach` input samples ahead.
  push(block) {
    const input = new Float32Array(this.kept.length + block.length);
    input.set(this.kept);
    input.set(block, this.kept.length);
    const output = [];
    let whole = Math.floor(this.at / this.up);
    while (whole + 2 * this.reach < input.length) {
      const weights = this.weights[this.at % this.up];
      let sum = 0;
      for (let k = 0; k < weights.length; k += 1) sum += weights[k] * input[whole + k];
      output.push(sum);
      this.at += this.down;
      whole = Math.floor(this.at / this.up);
    }
    const used = Math.min(whole, input.length);
    this.kept = input.slice(used);
    this.at -= used * this.up;
    return output;
  }
}

// weights[k] belongs to the input sample k - reach away from the one at or before the output's place
function weightsOf(fraction, band, reach) {
  const weights = new Float32Array(2 * reach + 1);
  let sum = 0;
  for (let k = 0; k < weights.length; k += 1) {
    const away = k - reach - fraction;
    weights[k] = sinc(band * away) * kaiser(away / (reach + 1));
    sum += weights[k];
  }
  return weights.map((weight) => weight / sum); // a constant stays what it is
}

function sinc(x) {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}

function kaiser(x) {
  return Math.abs(x) >= 1 ? 0 : bessel(BETA * Math.sqrt(1 - x * x)) / bessel(BETA);
}

function bessel(x) { // modified, first kind, order zero
  let sum = 1;
  let term = 1;
  for (let k = 1; term > 1e-12 * sum; k += 1) {
    term *= (x / 2 / k) ** 2;
    sum += term;
  }
  return sum;
}

function greatestDivisor(a, b) {
  return b === 0 ? a : greatestDivisor(b, a % b);
}
