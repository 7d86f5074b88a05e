// The browser's microphone: kept here until the program has it, whatever the line does meanwhile.

const RATE = 16000;
const PIECE_S = 0.1;
const KEPT = 6000; // pieces: ten minutes
const SKIPPED_S = 1.5; // the clock ran ahead of the samples by so much: the machine slept, or the microphone was away
const ON_THE_WAY = 1 << 20; // bytes handed to the browser at once
const TRY_AGAIN_MS = 1500;
const ASKING_MS = 1000; // a browser that already allows it answers sooner
const SILENT_MS = 1500; // of no samples from an open microphone

export class Recorder {
  // line: a Line; tell: { microphone(problem) } with null, "asking", "denied", "missing", "muted", "blocked",
  // "taken" or "full"
  constructor(line, tell) {
    this.line = line;
    this.tell = tell;
    this.name = crypto.randomUUID();
    this.kept = []; // { first, message }
    this.next = 0; // number of the next sample of the microphone
    this.began = null; // Date.now() of sample 0
    this.sent = 0; // pieces of `kept` that this connection was given
    this.came = 0;
    this.granted = false; // the program wants our sound on this connection
    this.opening = false;
    setInterval(() => this.watch(), 500);
    navigator.mediaDevices?.addEventListener("devicechange", () => this.openMicrophone());
  }

  get unsentSeconds() {
    return this.kept.length * PIECE_S;
  }

  // After each connection: say who we are, and from where on we still have sound.
  greet() {
    this.granted = false;
    this.sent = 0;
    this.line.send({ type: "hello", microphone: true, stream: this.name, sample: this.kept[0]?.first ?? this.next });
  }

  lineLost() {
    this.granted = false;
  }

  arrived(sample) {
    this.forgetUpTo(sample);
    if (!this.granted) {
      this.granted = true;
      this.sent = 0;
      if (!this.context) this.openMicrophone();
    }
    this.pour();
  }

  taken() {
    this.tell.microphone("taken");
    setTimeout(() => { if (!this.granted) this.greet(); }, 3000);
  }

  forgetUpTo(sample) {
    let done = 0;
    while (done < this.kept.length && this.kept[done].first + RATE * PIECE_S <= sample) done += 1;
    if (!done) return;
    this.kept.splice(0, done);
    this.sent = Math.max(0, this.sent - done);
  }

  pour() {
    while (this.granted && this.line.isOpen && this.sent < this.kept.length && this.line.waiting < ON_THE_WAY) {
      this.line.send(this.kept[this.sent].message);
      this.sent += 1;
    }
  }

  piece({ samples, at }) {
    this.came = performance.now();
    this.began ??= at - PIECE_S * 1000;
    const skipped = (at - this.began) / 1000 - (this.next / RATE + PIECE_S);
    if (skipped > SKIPPED_S) this.next += Math.round(skipped * RATE); // the program sees a gap of that length
    const message = new ArrayBuffer(8 + samples.byteLength);
    new DataView(message).setBigUint64(0, BigInt(this.next), true);
    new Uint8Array(message, 8).set(new Uint8Array(samples));
    this.kept.push({ first: this.next, message });
    this.next += samples.byteLength / 2;
    if (this.kept.length > KEPT) {
      this.kept.shift(); // the program sees a gap; the page says so
      this.sent = Math.max(0, this.sent - 1);
      this.tell.microphone("full");
    } else {
      this.tell.microphone(this.track?.muted ? "muted" : null);
    }
    this.pour();
  }

  async openMicrophone() {
    if (this.opening || this.track?.readyState === "live") return;
    if (!this.granted && !this.context) return;
    this.opening = true;
    const asking = this.context ? 0 : setTimeout(() => this.tell.microphone("asking"), ASKING_MS);
    try {
      // The three are off because they are made for talking to people: they cut soft word beginnings, pump the level
      // and smear consonants, by which a recogniser hears worse.
      const stream = await navigator.mediaDevices.getUserMedia({
        audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
      });
      [this.track] = stream.getAudioTracks();
      this.track.onended = () => this.lost("missing");
      clearTimeout(asking);
      if (!this.context) {
        this.context = new AudioContext();
        await this.context.audioWorklet.addModule("/live/microphone.js");
        this.context.onstatechange = () => this.wake();
      }
      this.disconnect();
      this.node = new AudioWorkletNode(this.context, "microphone", { numberOfOutputs: 1, channelCountMode: "max" });
      this.node.port.onmessage = (event) => this.piece(event.data);
      this.source = this.context.createMediaStreamSource(stream);
      this.source.connect(this.node);
      this.node.connect(this.context.destination); // it puts out silence; some browsers run only what is connected
      this.came = performance.now();
      this.wake();
    } catch (error) {
      this.lost(error.name === "NotAllowedError" ? "denied" : "missing");
      setTimeout(() => this.openMicrophone(), TRY_AGAIN_MS);
    } finally {
      clearTimeout(asking);
      this.opening = false;
    }
  }

  // A track that has ended goes on giving silence, which must not be taken for a quiet room.
  disconnect() {
    if (!this.node) return;
    this.node.port.onmessage = null;
    this.node.port.close();
    this.node.disconnect();
    this.source.disconnect();
    this.node = null;
  }

  lost(problem) {
    this.disconnect();
    this.track?.stop();
    this.track = null;
    this.tell.microphone(problem);
  }

  // Browsers may hold sound back until the person has touched a key once.
  async wake() {
    if (this.context.state === "running") return;
    this.context.resume();
    await new Promise((done) => { setTimeout(done, 300); });
    if (this.context.state !== "running") this.tell.microphone("blocked");
  }

  watch() {
    if (!this.context || this.opening) return;
    this.pour();
    if (performance.now() - this.came < SILENT_MS) return;
    if (this.context.state !== "running") { this.wake(); return; }
    this.lost("missing");
    this.openMicrophone();
  }
}
