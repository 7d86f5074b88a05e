// The line to the program: opens again by itself, and knows when nothing has come for too long.

const SILENT_MS = 3000; // the program says something every second
const FIRST_WAIT_MS = 300;
const LONGEST_WAIT_MS = 4000;

export class Line {
  // tell: { opened(), message(object), lost(why), } ; why is "gone" (no answer) or "link" (the program was started anew)
  constructor(path, tell) {
    this.address = `ws://${location.host}${path}`;
    this.tell = tell;
    this.wait = FIRST_WAIT_MS;
    this.heard = performance.now();
    this.over = false;
    this.open();
    setInterval(() => this.watch(), 500);
  }

  get isOpen() {
    return this.socket.readyState === WebSocket.OPEN;
  }

  send(message) {
    if (this.isOpen) this.socket.send(message instanceof ArrayBuffer ? message : JSON.stringify(message));
  }

  get waiting() { // bytes that the browser has not passed on yet
    return this.socket.bufferedAmount;
  }

  open() {
    const socket = new WebSocket(this.address);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    this.heard = performance.now();
    socket.onopen = () => { this.heard = performance.now(); this.tell.opened(); };
    socket.onmessage = (event) => {
      this.heard = performance.now();
      this.wait = FIRST_WAIT_MS;
      this.tell.message(JSON.parse(event.data));
    };
    socket.onclose = () => this.again(socket);
  }

  // A socket may hang without closing: then it is left alone and a new one opened.
  watch() {
    if (performance.now() - this.heard < SILENT_MS) return;
    const hung = this.socket;
    if (hung.readyState > WebSocket.OPEN) return; // `again` has it
    hung.onclose = hung.onmessage = hung.onopen = null;
    hung.close();
    this.again(hung);
  }

  async again(socket) {
    if (socket !== this.socket || this.over) return;
    this.tell.lost("gone");
    setTimeout(() => { if (socket === this.socket) this.open(); }, this.wait);
    this.wait = Math.min(this.wait * 2, LONGEST_WAIT_MS);
    const answer = await fetch("/live/icon.svg").catch(() => null);
    if (answer && answer.status === 403 && !this.isOpen) this.tell.lost("link");
  }
}
