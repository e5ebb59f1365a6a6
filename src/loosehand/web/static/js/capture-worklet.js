// @ts-check
/* Takes the microphone's sound, block by block, each stamped with its frame.

   The stamp is the context's own frame counter. Where it jumps (it does at the start) what was
   gathered is sent first, so that no block holds a gap. A browser under load may say one quantum's
   frame twice and then skip one, though its sound goes on: a step of one quantum that is made good
   by the next is no jump. */

const BLOCK_FRAMES = 1408;
const QUANTUM_FRAMES = 128;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK_FRAMES);
    this.filled = 0;
    this.first = 0;
    this.next = -1;
    this.outOfStep = false;
  }

  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) {
      return true;
    }
    const step = currentFrame - this.next;
    if (step !== 0 && (Math.abs(step) > QUANTUM_FRAMES || this.outOfStep || this.next < 0)) {
      this.send();
      this.next = currentFrame;
      this.outOfStep = false;
    } else {
      this.outOfStep = step !== 0;
    }
    const samples = channels[0];
    for (let done = 0; done < samples.length; ) {
      if (!this.filled) {
        this.first = this.next;
      }
      const size = Math.min(samples.length - done, BLOCK_FRAMES - this.filled);
      this.block.set(samples.subarray(done, done + size), this.filled);
      this.filled += size;
      this.next += size;
      done += size;
      if (this.filled === BLOCK_FRAMES) {
        this.send();
      }
    }
    return true;
  }

  send() {
    if (!this.filled) {
      return;
    }
    const samples = this.block.slice(0, this.filled);
    this.port.postMessage({ frame: this.first, samples }, [samples.buffer]);
    this.filled = 0;
  }
}

registerProcessor("capture", Capture);
