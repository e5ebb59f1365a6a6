// @ts-check
/* Strokes of a pad or an electronic kit, in frames of the page's sound. */

import { eventFrame } from "/static/js/rhythm.js";

const NOTE_ON = 0x90;

/**
 * Listen to all MIDI inputs, also to those plugged in later.
 * @param {AudioContext} context
 * @param {(frame: number, note: number, velocity: number) => void} strike
 * @returns {Promise<string[]>} names of the inputs
 */
export async function listenToPads(context, strike) {
  const access = await navigator.requestMIDIAccess();
  const listen = (/** @type {any} */ input) => {
    input.onmidimessage = (/** @type {any} */ event) => {
      const [status, note, velocity] = event.data;
      if ((status & 0xf0) === NOTE_ON && velocity > 0) {
        const stamp = context.getOutputTimestamp();
        strike(eventFrame(event.timeStamp, /** @type {any} */ (stamp), context.sampleRate), note, velocity);
      }
    };
  };
  const inputs = [...access.inputs.values()];
  inputs.forEach(listen);
  access.onstatechange = (/** @type {any} */ event) => {
    if (event.port?.type === "input" && event.port.state === "connected") {
      listen(event.port);
    }
  };
  return inputs.map((input) => input.name ?? "a pad");
}
