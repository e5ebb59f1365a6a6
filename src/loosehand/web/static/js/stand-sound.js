// @ts-check
/* The page's sound: clicks and cues out, the microphone in. All on one audio clock. */

import { mixClicks } from "/static/js/rhythm.js";

const AHEAD_S = 0.3;
const WANTED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
/** Pitch in Hz and number of pips of each cue. */
const CUES = {
  pip: [880, 1],
  "last pip": [1320, 1],
  held: [660, 1],
  ask: [440, 2],
  next: [990, 2],
  done: [523, 3],
  pain: [330, 2],
};

export class Sound {
  /**
   * @param {string} worklet address of the capture module
   * @param {number} level_db of clicks and cues
   */
  constructor(worklet, level_db) {
    this.worklet = worklet;
    this.context = new AudioContext({ latencyHint: "interactive" });
    this.out = this.context.createGain();
    this.out.gain.value = 10 ** (level_db / 20);
    this.out.connect(this.context.destination);
    /** @type {Record<string, Float32Array>} */
    this.sounds = {};
    /** @type {AudioBufferSourceNode | null} */
    this.playing = null;
    /** @type {MediaStream | null} */
    this.stream = null;
  }

  get rate_hz() {
    return this.context.sampleRate;
  }

  /** Seconds from a frame to the moment it is heard, as far as the browser knows. */
  get outputLatency_s() {
    return (this.context.outputLatency || 0) + (this.context.baseLatency || 0);
  }

  /** Time of the sound that is coming out just now. */
  get heardTime_s() {
    const stamp = this.context.getOutputTimestamp?.();
    if (!stamp || !stamp.performanceTime || !stamp.contextTime) {
      return this.context.currentTime - this.outputLatency_s;
    }
    return stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
  }

  /**
   * @param {(frame: number, samples: Float32Array) => void} take
   * @param {(why: string) => void} lose
   */
  async listen(take, lose) {
    await this.context.audioWorklet.addModule(this.worklet);
    this.stream = await navigator.mediaDevices.getUserMedia({
      audio: { ...WANTED, channelCount: 1 },
    });
    const track = this.stream.getAudioTracks()[0];
    track.addEventListener("ended", () => lose("microphone"));
    const node = new AudioWorkletNode(this.context, "capture", {
      numberOfInputs: 1,
      numberOfOutputs: 1,
      channelCount: 1,
      channelCountMode: "explicit",
    });
    node.port.onmessage = (event) => take(event.data.frame, event.data.samples);
    const quiet = this.context.createGain();
    quiet.gain.value = 0;
    this.context.createMediaStreamSource(this.stream).connect(node);
    node.connect(quiet).connect(this.context.destination);
    this.capture = node;
    return this.settings(track);
  }

  /**
   * What the browser says it does to the sound; what it does not say is null, not off.
   * @param {MediaStreamTrack} track
   */
  settings(track) {
    const said = track.getSettings?.() ?? {};
    const read = (/** @type {string} */ name) => /** @type {any} */ (said)[name] ?? null;
    return {
      echoCancellation: read("echoCancellation"),
      noiseSuppression: read("noiseSuppression"),
      autoGainControl: read("autoGainControl"),
      sampleRate: read("sampleRate"),
      channelCount: read("channelCount"),
      contextRate: this.rate_hz,
    };
  }

  /**
   * Set the clicks of a round going.
   * @param {import("/static/js/rhythm.js").Click[]} clicks
   * @returns {number} frame of the first
   */
  play(clicks) {
    this.hush();
    const mixed = mixClicks(clicks, this.sounds, this.rate_hz);
    const buffer = this.context.createBuffer(1, mixed.length, this.rate_hz);
    buffer.copyToChannel(mixed, 0);
    const first = Math.ceil((this.context.currentTime + AHEAD_S) * this.rate_hz);
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    source.connect(this.out);
    source.start(first / this.rate_hz);
    this.playing = source;
    return first;
  }

  hush() {
    try {
      this.playing?.stop();
    } catch {
      // It had not begun, or is over.
    }
    this.playing = null;
  }

  /**
   * @param {string} name
   * @param {number} frame at which it sounds
   */
  cue(name, frame) {
    const [pitch, pips] = /** @type {any} */ (CUES)[name] ?? CUES.pip;
    for (let k = 0; k < pips; k += 1) {
      const at = Math.max(frame / this.rate_hz, this.context.currentTime) + 0.13 * k;
      const tone = this.context.createOscillator();
      const shape = this.context.createGain();
      tone.frequency.value = pitch;
      shape.gain.setValueAtTime(0, at);
      shape.gain.linearRampToValueAtTime(0.3, at + 0.005);
      shape.gain.exponentialRampToValueAtTime(0.001, at + 0.09);
      tone.connect(shape).connect(this.out);
      tone.start(at);
      tone.stop(at + 0.1);
    }
  }

  close() {
    this.hush();
    this.stream?.getTracks().forEach((track) => track.stop());
    return this.context.close();
  }
}
