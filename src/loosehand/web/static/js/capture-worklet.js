// @ts-check
/* Takes the microphone's sound, block by block, each stamped with its frame.

   The stamp is the context's own frame counter. Where it jumps (it does at the start) what was
   gathered is sent first, so that no block holds a gap. */

const BLOCK_FRAMES = 1280;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK_FRAMES);
    this.filled = 0;
    this.first = 0;
  }

  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) {
      return true;
    }
    if (this.filled && this.first + this.filled !== currentFrame) {
      this.send();
    }
    const samples = channels[0];
    for (let done = 0; done < samples.length; ) {
      if (!this.filled) {
        this.first = currentFrame + done;
      }
      const size = Math.min(samples.length - done, BLOCK_FRAMES - this.filled);
      this.block.set(samples.subarray(done, done + size), this.filled);
      this.filled += size;
      done += size;
      if (this.filled === BLOCK_FRAMES) {
        this.send();
      }
    }
    return true;
  }

  send() {
    const samples = this.block.slice(0, this.filled);
    this.port.postMessage({ frame: this.first, samples }, [samples.buffer]);
    this.filled = 0;
  }
}

registerProcessor("capture", Capture);
