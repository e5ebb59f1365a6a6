// @ts-check
// Which place of the staff is chosen, and what is said of it: pure, the page does the rest.

/**
 * @typedef {{ place: number, limb: number, marks: string[], said: string }} StrokeShown
 * @typedef {{ section: number, bar: number, group: string, said: string, places: string[],
 *   strokes: StrokeShown[] }} BarShown
 * @typedef {{ index: number, place: number, limb: number }} Chosen
 */

/** Changes by the key that makes them. */
export const EDIT_KEYS = new Map([
  ["Enter", "stroke"],
  [" ", "stroke"],
  ["x", "stroke"],
  ["Delete", "stroke"],
  ["a", "accent"],
  ["g", "ghost"],
  ["f", "flam"],
  ["+", "higher"],
  ["=", "higher"],
  ["-", "lower"],
  ["l", "other limb"],
]);

/**
 * Stroke that is chosen, or null.
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @returns {StrokeShown | null}
 */
export function strokeAt(bars, at) {
  const strokes = bars[at.index]?.strokes ?? [];
  return strokes.find((one) => one.place === at.place && one.limb === at.limb) ?? null;
}

/**
 * Where a key leads, or null where it leads nowhere.
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @param {string} key
 * @param {number} limbs
 * @returns {Chosen | null}
 */
export function moved(bars, at, key, limbs) {
  const last = bars.length - 1;
  switch (key) {
    case "ArrowRight":
      return stepped(bars, at, 1);
    case "ArrowLeft":
      return stepped(bars, at, -1);
    case "ArrowDown":
      return { ...at, limb: Math.min(at.limb + 1, limbs - 1) };
    case "ArrowUp":
      return { ...at, limb: Math.max(at.limb - 1, 0) };
    case "PageDown":
      return inBar(bars, at, Math.min(at.index + 1, last));
    case "PageUp":
      return inBar(bars, at, Math.max(at.index - 1, 0));
    case "Home":
      return { ...at, place: 0 };
    case "End":
      return { ...at, place: bars[at.index].places.length - 1 };
    default:
      return null;
  }
}

/**
 * One place on or back, into the next bar or the one before.
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @param {number} step
 */
function stepped(bars, at, step) {
  const place = at.place + step;
  if (place >= 0 && place < bars[at.index].places.length) return { ...at, place };
  const index = at.index + step;
  if (index < 0 || index >= bars.length) return at;
  return { ...at, index, place: step > 0 ? 0 : bars[index].places.length - 1 };
}

/**
 * The same place of another bar, or its last.
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @param {number} index
 */
function inBar(bars, at, index) {
  return { ...at, index, place: Math.min(at.place, bars[index].places.length - 1) };
}

/**
 * The same place where other bars are shown, or the nearest.
 * @param {BarShown[]} before
 * @param {BarShown[]} after
 * @param {Chosen} at
 * @returns {Chosen}
 */
export function kept(before, after, at) {
  const was = before[at.index];
  const same = after.findIndex((one) => one.section === was?.section && one.bar === was?.bar);
  const index = same < 0 ? Math.min(at.index, after.length - 1) : same;
  return inBar(after, at, index);
}

/**
 * What is chosen, in words.
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @param {string[]} limbs
 */
export function said(bars, at, limbs) {
  const bar = bars[at.index];
  const own = strokeAt(bars, at)?.said ?? `${limbs[at.limb]}, nothing`;
  const others = bar.strokes
    .filter((one) => one.place === at.place && one.limb !== at.limb)
    .map((one) => one.said);
  const beside = others.length ? `; with ${others.join(" and ")}` : "";
  return `${bar.said}, ${bar.places[at.place]}: ${own}${beside}`;
}

/**
 * Positions of all places of a bar, where some are known from their notes.
 * @param {Map<number, number>} known position by place
 * @param {number} places
 * @param {number} left where the bar begins
 * @param {number} right where it ends
 * @returns {number[]}
 */
export function placeXs(known, places, left, right) {
  const marks = [...known].sort((one, other) => one[0] - other[0]);
  if (!marks.length) marks.push([0, left + 0.2 * (right - left)]);
  const [firstPlace, firstX] = marks[0];
  if (firstPlace > 0) marks.unshift([0, firstX - firstPlace * (right - firstX) / (places - firstPlace)]);
  marks.push([places, Math.max(right, marks[marks.length - 1][1])]);
  return Array.from({ length: places }, (_, place) => {
    const next = marks.findIndex((mark) => mark[0] > place);
    const [p0, x0] = marks[next - 1];
    const [p1, x1] = marks[next];
    return x0 + ((x1 - x0) * (place - p0)) / (p1 - p0);
  });
}

/**
 * Index of the value nearest to another.
 * @param {number[]} values
 * @param {number} wanted
 */
export function nearest(values, wanted) {
  let best = 0;
  values.forEach((value, index) => {
    if (Math.abs(value - wanted) < Math.abs(values[best] - wanted)) best = index;
  });
  return best;
}
