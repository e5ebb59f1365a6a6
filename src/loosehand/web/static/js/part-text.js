// @ts-check
// The text of a part: where a fault lies in it, shown beside it and marked in it.

/** @typedef {{ sentence: string, line: number | null, column: number | null,
 *   shown: string | null }} Problem */

/**
 * Offset of a line and column, both from 1, in a text.
 * @param {string} text
 * @param {number} line
 * @param {number} column
 */
export function offsetOf(text, line, column) {
  let offset = 0;
  for (let number = 1; number < line; number += 1) {
    const end = text.indexOf("\n", offset);
    if (end < 0) break;
    offset = end + 1;
  }
  return Math.min(offset + column - 1, text.length);
}

/**
 * Number of the section that an offset lies in, from 0.
 * @param {string} text
 * @param {number} offset
 */
export function sectionOf(text, offset) {
  const end = text.indexOf("\n", offset);
  const heads = text.slice(0, end < 0 ? text.length : end).match(/^[ \t]*\[/gm) ?? [];
  return Math.max(0, heads.length - 1);
}

/**
 * Say a problem beside the text, or nothing.
 * @param {HTMLElement} box
 * @param {HTMLTextAreaElement} area
 * @param {Problem | null} problem
 */
export function sayProblem(box, area, problem) {
  box.replaceChildren();
  area.toggleAttribute("aria-invalid", false);
  if (!problem) return;
  const sentence = document.createElement("p");
  sentence.className = "say";
  sentence.textContent = problem.sentence;
  box.append(sentence);
  const { line, column, shown } = problem;
  if (line === null || column === null) return;
  area.setAttribute("aria-invalid", "true");
  const row = document.createElement("pre");
  row.className = "fault scroll";
  row.textContent = shown;
  row.tabIndex = 0;
  row.setAttribute("aria-label", "The line");
  const go = document.createElement("button");
  go.type = "button";
  go.textContent = `Go to line ${line}`;
  go.addEventListener("click", () => {
    const offset = offsetOf(area.value, line, column);
    area.focus();
    area.setSelectionRange(offset, Math.min(offset + 1, area.value.length));
  });
  box.append(row, go);
}

/**
 * Put the mark where a fault lies in the text, or hide it.
 * @param {HTMLElement} mark
 * @param {HTMLTextAreaElement} area
 * @param {Problem | null} problem
 */
export function placeMark(mark, area, problem) {
  mark.hidden = !problem?.line;
  if (!problem?.line || !problem.column) return;
  const style = getComputedStyle(area);
  const sign = mark.getBoundingClientRect();
  const px = (/** @type {string} */ length) => Number.parseFloat(length) || 0;
  const x = px(style.borderLeftWidth) + px(style.paddingLeft) + (problem.column - 1) * sign.width;
  const y = px(style.borderTopWidth) + px(style.paddingTop) + (problem.line - 1) * px(style.lineHeight);
  mark.style.transform = `translate(${x - area.scrollLeft}px, ${y - area.scrollTop}px)`;
}
