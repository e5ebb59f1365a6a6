// @ts-check
/* Pure functions of clicks, counts and clocks. No page, no sound. */

/**
 * @typedef {{at_s: number, role: string | null, count: number}} Click
 */

/**
 * All clicks of a round in one stretch of sound, each at its nearest frame.
 * @param {Click[]} clicks seconds after the first
 * @param {Record<string, Float32Array>} sounds waveform by role
 * @param {number} rate_hz
 * @returns {Float32Array}
 */
export function mixClicks(clicks, sounds, rate_hz) {
  const longest = Math.max(...Object.values(sounds).map((sound) => sound.length));
  const last = Math.round(clicks[clicks.length - 1].at_s * rate_hz);
  const mixed = new Float32Array(last + longest);
  for (const click of clicks) {
    const sound = click.role === null ? null : sounds[click.role];
    if (!sound) {
      continue;
    }
    const first = Math.round(click.at_s * rate_hz);
    for (let i = 0; i < sound.length; i += 1) {
      mixed[first + i] += sound[i];
    }
  }
  return mixed;
}

/**
 * The click that is sounding, or sounded last: its index, -1 before the first.
 * @param {Click[]} clicks
 * @param {number} since_s seconds since the first click
 * @returns {number}
 */
export function clickAt(clicks, since_s) {
  let low = 0;
  let high = clicks.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (clicks[middle].at_s <= since_s + 1e-9) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low - 1;
}

/**
 * What the big figure shows: counts left of the count-in, else the count.
 * @param {Click[]} clicks
 * @param {number} since_s
 * @returns {{figure: string, countIn: boolean}}
 */
export function countShown(clicks, since_s) {
  const index = clickAt(clicks, since_s);
  if (index < 0) {
    return { figure: "", countIn: true };
  }
  const count = clicks[index].count;
  return count < 1
    ? { figure: String(1 - count), countIn: true }
    : { figure: String(count), countIn: false };
}

/**
 * Where a moment of the page's clock lies in the sound that is coming out of the speaker.
 * @param {number} event_ms moment of an event, in the page's milliseconds
 * @param {{contextTime: number, performanceTime: number}} stamp of the same moment in both clocks
 * @param {number} rate_hz
 * @returns {number} frame, with its fraction
 */
export function eventFrame(event_ms, stamp, rate_hz) {
  return (stamp.contextTime + (event_ms - stamp.performanceTime) / 1000) * rate_hz;
}

/**
 * A block of sound as it is sent: the frame of its first sample, then the samples.
 * @param {number} frame
 * @param {Float32Array} samples
 * @returns {ArrayBuffer}
 */
export function packBlock(frame, samples) {
  const packed = new ArrayBuffer(8 + 4 * samples.length);
  new DataView(packed).setFloat64(0, frame, true);
  new Float32Array(packed, 8).set(samples);
  return packed;
}

/**
 * Blocks that have to be kept: those not acknowledged, and the last few seconds.
 * @template {{frame: number, size: number}} Block
 * @param {Block[]} blocks in order
 * @param {number} ackedFrame all before it has been kept by the server
 * @param {number} keepFrames
 * @returns {Block[]}
 */
export function stillNeeded(blocks, ackedFrame, keepFrames) {
  if (!blocks.length) {
    return blocks;
  }
  const last = blocks[blocks.length - 1];
  const since = Math.min(ackedFrame, last.frame + last.size - keepFrames);
  return blocks.filter((block) => block.frame + block.size > since);
}
