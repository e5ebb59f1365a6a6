// @ts-check
// Where a time lies: on the page, and among the counts. Nothing here touches the page.

/**
 * @typedef {object} TakeTimes
 * @property {number} duration_s length of the take
 * @property {number} left pixel of time 0
 * @property {number} span pixels from the beginning to the end of the take
 * @property {number | null} first_count_s time of count 1, null where no counts were found
 * @property {number} count_s length of a count
 * @property {number} counts counts of the round, 0 where none were found
 */

/**
 * Pixel of a time.
 * @param {TakeTimes} take
 * @param {number} time_s
 */
export function xOfTime(take, time_s) {
  return take.left + (take.span * withinTake(take, time_s)) / take.duration_s;
}

/**
 * Time at a pixel.
 * @param {TakeTimes} take
 * @param {number} x
 */
export function timeOfX(take, x) {
  return withinTake(take, ((x - take.left) / take.span) * take.duration_s);
}

/**
 * A time moved into the take.
 * @param {TakeTimes} take
 * @param {number} time_s
 */
export function withinTake(take, time_s) {
  return Math.min(Math.max(time_s, 0), take.duration_s);
}

/**
 * Count (from 1) that sounds at a time: 0 before the round, null after it or without counts.
 * @param {TakeTimes} take
 * @param {number} time_s
 */
export function countAt(take, time_s) {
  if (take.first_count_s === null || take.counts < 1) return null;
  // A hair more, so that the time at which a count begins belongs to it.
  const count = Math.floor((time_s - take.first_count_s) / take.count_s + 1e-4) + 1;
  return count > take.counts ? null : Math.max(count, 0);
}

/**
 * Time at which a count begins.
 * @param {TakeTimes} take
 * @param {number} count from 1
 */
export function timeOfCount(take, count) {
  return (take.first_count_s ?? 0) + (count - 1) * take.count_s;
}

/**
 * Counts that were held if the hand loses the click at a time.
 * @param {TakeTimes} take
 * @param {number} time_s
 */
export function heldAt(take, time_s) {
  const count = countAt(take, time_s);
  return count === null ? take.counts : Math.max(count - 1, 0);
}

/**
 * Time to go to by so many counts (by seconds where there are no counts).
 * @param {TakeTimes} take
 * @param {number} time_s
 * @param {number} counts negative to go back
 */
export function steppedBy(take, time_s, counts) {
  if (take.first_count_s === null) return withinTake(take, time_s + counts);
  const along = (time_s - take.first_count_s) / take.count_s;
  const whole = counts > 0 ? Math.floor(along + 1e-3) : Math.ceil(along - 1e-3);
  return withinTake(take, take.first_count_s + (whole + counts) * take.count_s);
}

/**
 * Where a time lies, in words.
 * @param {TakeTimes} take
 * @param {number} time_s
 */
export function placeInWords(take, time_s) {
  const clock = `${Math.floor(time_s / 60)}:${(time_s % 60).toFixed(1).padStart(4, "0")}`;
  if (take.first_count_s === null) return clock;
  const count = countAt(take, time_s);
  if (count === null) return `${clock}, after the round`;
  return count === 0 ? `${clock}, before count 1` : `${clock}, count ${count} of ${take.counts}`;
}
