// @ts-check
// The staff in the page: what is chosen is marked on it, and a pointer chooses.

import { nearest, placeXs, strokeAt } from "./part-select.js";

/** @typedef {import("./part-select.js").BarShown} BarShown */
/** @typedef {import("./part-select.js").Chosen} Chosen */

const SVG = "http://www.w3.org/2000/svg";
const HALF_MARK = 8;
const LETTERS_BELOW = 9;
const REACH_Y = 14;

/**
 * Bars that a staff says it shows.
 * @param {HTMLElement} pieces
 * @returns {BarShown[]}
 */
export function barsOf(pieces) {
  return JSON.parse(pieces.dataset.bars ?? "[]");
}

/**
 * Note of a stroke, or null.
 * @param {BarShown} bar
 * @param {number} place
 * @param {string} limb
 */
function noteOf(bar, place, limb) {
  return document.getElementById(`${bar.group}-p${place}-${limb.replaceAll(" ", "-")}`);
}

/**
 * Where the places of a bar lie, across, in the window.
 * @param {BarShown} bar
 * @param {string[]} limbs
 */
function xsOf(bar, limbs) {
  const group = document.getElementById(bar.group);
  if (!group) return null;
  /** @type {Map<number, number>} */
  const known = new Map();
  for (const stroke of bar.strokes) {
    const head = noteOf(bar, stroke.place, limbs[stroke.limb])?.querySelector("use");
    if (!head) continue;
    const box = head.getBoundingClientRect();
    known.set(stroke.place, box.left + box.width / 2);
  }
  const box = group.getBoundingClientRect();
  return { group, box, xs: placeXs(known, bar.places.length, box.left, box.right - 12) };
}

/**
 * Mark what is chosen.
 * @param {HTMLElement} pieces
 * @param {BarShown[]} bars
 * @param {Chosen} at
 * @param {string[]} limbs
 */
export function mark(pieces, bars, at, limbs) {
  for (const old of pieces.querySelectorAll(".place-mark")) old.remove();
  for (const old of pieces.querySelectorAll(".staff-chosen")) old.classList.remove("staff-chosen");
  const bar = bars[at.index];
  const found = bar && xsOf(bar, limbs);
  const svg = found && outermost(found.group);
  if (!found || !svg) return;
  if (strokeAt(bars, at)) noteOf(bar, at.place, limbs[at.limb])?.classList.add("staff-chosen");
  const frame = svg.getBoundingClientRect();
  const scale = svg.viewBox.baseVal.width / frame.width;
  const x = (found.xs[at.place] - frame.left) * scale;
  const high = svg.viewBox.baseVal.height;
  svg.append(
    shape("rect", { x: x - HALF_MARK, y: 1, width: 2 * HALF_MARK, height: high - 2, rx: 3 }),
    letters(x, high + LETTERS_BELOW, limbs[at.limb]),
  );
  keepInSight(pieces, svg, found.xs[at.place]);
}

/**
 * The limb's letters, below the system: above it stand the names of sections.
 * @param {number} x
 * @param {number} y
 * @param {string} limb
 */
function letters(x, y, limb) {
  const text = shape("text", { x, y, "text-anchor": "middle", "font-size": 11 });
  text.textContent = limb.split(" ").map((word) => word[0].toUpperCase()).join("");
  return text;
}

/**
 * @param {string} kind
 * @param {Record<string, string | number>} attributes
 */
function shape(kind, attributes) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.setAttribute("class", "place-mark");
  return made;
}

/**
 * The picture that an element lies in, not one inside it.
 * @param {Element} element
 * @returns {SVGSVGElement | null}
 */
function outermost(element) {
  return /** @type {SVGSVGElement | null} */ (element.closest("svg.staff-system"));
}

/**
 * @param {HTMLElement} pieces
 * @param {SVGSVGElement} svg
 * @param {number} x in the window
 */
function keepInSight(pieces, svg, x) {
  const frame = pieces.getBoundingClientRect();
  const system = svg.getBoundingClientRect();
  if (x < frame.left + 30 || x > frame.right - 30) {
    pieces.scrollLeft += x - frame.left - frame.width / 2;
  }
  if (system.top < frame.top) pieces.scrollTop -= frame.top - system.top + 4;
  else if (system.bottom + 14 > frame.bottom) pieces.scrollTop += system.bottom - frame.bottom + 18;
}

/**
 * Bring a section's first bars into sight.
 * @param {HTMLElement} pieces
 * @param {number} section
 */
export function showSection(pieces, section) {
  const piece = pieces.querySelector(`[data-section="${section}"]`);
  if (!piece) return;
  const frame = pieces.getBoundingClientRect();
  const box = piece.getBoundingClientRect();
  const isSeen = box.top >= frame.top && box.bottom <= frame.bottom;
  if (!isSeen) pieces.scrollTop += box.top - frame.top - 4;
}

/**
 * What a pointer chooses: a stroke that it meets, else the nearest place of the same limb; null
 * outside the bars.
 * @param {BarShown[]} bars
 * @param {MouseEvent} event
 * @param {number} limb that is chosen now
 * @param {string[]} limbs
 * @returns {Chosen | null}
 */
export function pointed(bars, event, limb, limbs) {
  const target = /** @type {Element} */ (event.target);
  const svg = target.closest("svg.staff-system");
  if (!svg) return null;
  for (const [index, bar] of bars.entries()) {
    const group = document.getElementById(bar.group);
    if (!group || outermost(group) !== svg) continue;
    const box = group.getBoundingClientRect();
    if (event.clientX < box.left || event.clientX > box.right) continue;
    const found = xsOf(bar, limbs);
    if (!found) return null;
    const place = nearest(found.xs, event.clientX);
    return { index, place, limb: limbMet(bar, place, event.clientY, limbs) ?? limb };
  }
  return null;
}

/**
 * Limb whose note at a place lies near a height, or null.
 * @param {BarShown} bar
 * @param {number} place
 * @param {number} y
 * @param {string[]} limbs
 */
function limbMet(bar, place, y, limbs) {
  let best = null;
  let least = REACH_Y;
  for (const stroke of bar.strokes.filter((one) => one.place === place)) {
    const head = noteOf(bar, place, limbs[stroke.limb])?.querySelector("use");
    if (!head) continue;
    const box = head.getBoundingClientRect();
    const away = Math.abs(box.top + box.height / 2 - y);
    if (away < least) [best, least] = [stroke.limb, away];
  }
  return best;
}
