// @ts-check
/* The page's line to the server. It comes back by itself, and sends again what was not kept. */

import { packBlock, stillNeeded } from "/static/js/rhythm.js";

const KEEP_S = 3;
const LONGEST_S = 240;
const RETRY_MS = [100, 300, 700, 1500];

export class Link {
  /**
   * @param {string} address of the socket
   * @param {(message: any) => void} take takes what the server says
   * @param {(there: boolean) => void} tell told whether the line is up
   */
  constructor(address, take, tell) {
    this.address = address;
    this.take = take;
    this.tell = tell;
    this.page = crypto.randomUUID ? crypto.randomUUID() : String(Math.random()).slice(2);
    /** @type {WebSocket | null} */
    this.socket = null;
    this.tries = 0;
    this.closed = false;
    this.takeOver = false;
    this.welcome = false;
    /** @type {{frame: number, size: number, data: ArrayBuffer}[]} */
    this.blocks = [];
    this.ackedFrame = 0;
    this.rate_hz = 48000;
    /** @type {any} what arms the sound, said again after a break */
    this.arming = null;
    /** @type {any} the round whose clicks sound, said again after a break */
    this.begun = null;
    /** @type {any[]} strokes of a pad in that round, likewise; the server takes each once */
    this.strokes = [];
  }

  open() {
    const socket = new WebSocket(this.address);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    socket.onopen = () => {
      socket.send(JSON.stringify({ kind: "hello", page: this.page, take_over: this.takeOver }));
    };
    socket.onmessage = (event) => this.heard(JSON.parse(event.data));
    socket.onclose = () => {
      this.welcome = false;
      this.tell(false);
      if (!this.closed && this.socket === socket) {
        const wait = RETRY_MS[Math.min(this.tries, RETRY_MS.length - 1)];
        this.tries += 1;
        setTimeout(() => this.open(), wait);
      }
    };
  }

  /** The sound is off: nothing of it is said again. */
  forget() {
    this.arming = this.begun = null;
    this.blocks = [];
    this.strokes = [];
  }

  /** The clicks of a round are set going.
   * @param {any} begun
   * @param {number} ackedFrame */
  begin(begun, ackedFrame) {
    this.begun = begun;
    this.ackedFrame = ackedFrame;
    this.strokes = [];
    this.say(begun);
  }

  /** @param {any} stroke of a pad */
  strike(stroke) {
    if (this.begun) {
      this.strokes.push(stroke);
    }
    this.say(stroke);
  }

  /** @param {any} message */
  heard(message) {
    if (message.do === "welcome") {
      this.tries = 0;
      this.takeOver = false;
      this.welcome = true;
      this.tell(true);
      this.goOn(message.state);
    } else if (message.do === "ack") {
      this.ackedFrame = Math.max(this.ackedFrame, message.frame);
    } else if (message.do === "refuse") {
      this.closed = true;
    }
    this.take(message);
  }

  /** After a break: say again what the server may have lost.
   * @param {any} state */
  goOn(state) {
    if (!this.arming) {
      return;
    }
    this.say(this.arming);
    if (!state.checked && this.arming.listens !== "pad") {
      this.say({ kind: "check" });
    }
    const since = state.have_frame ?? this.ackedFrame;
    if (this.begun) {
      this.say(this.begun);
      this.strokes.forEach((stroke) => this.say(stroke));
      for (const block of this.blocks) {
        if (block.frame + block.size > since) {
          this.socket?.send(block.data);
        }
      }
    }
  }

  /** @param {any} message */
  say(message) {
    if (this.welcome && this.socket?.readyState === WebSocket.OPEN) {
      this.socket.send(JSON.stringify(message));
    }
  }

  /**
   * @param {number} frame
   * @param {Float32Array} samples
   */
  sound(frame, samples) {
    const data = packBlock(frame, samples);
    this.blocks.push({ frame, size: samples.length, data });
    if (this.blocks.length % 64 === 0) {
      const acked = this.begun ? this.ackedFrame : Infinity;
      const oldest = frame - LONGEST_S * this.rate_hz;
      this.blocks = stillNeeded(this.blocks, Math.max(acked, oldest), KEEP_S * this.rate_hz);
    }
    if (this.welcome && this.socket?.readyState === WebSocket.OPEN) {
      this.socket.send(data);
    }
  }
}
