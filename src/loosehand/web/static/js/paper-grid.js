// @ts-check
// Keys of the sheet that paper is typed into: arrows go any way, Enter down the day and on to the
// next, Shift and Enter back up. Tab goes on as the browser has it.

/** @typedef {{row: number, column: number}} Spot */

/**
 * Where a key leads from a spot, and on the same way until `isOpen` says that one may type there.
 *
 * @param {string} step one of "up", "down", "left", "right", "on" (down, then the next day), "back"
 * @param {Spot} from
 * @param {{rows: number, columns: number}} size
 * @param {(spot: Spot) => boolean} isOpen
 * @returns {Spot | null} null where there is none
 */
export function spotAfter(step, from, size, isOpen) {
  let spot = from;
  for (let tries = 0; tries < size.rows * size.columns; tries += 1) {
    const next = neighbour(step, spot, size);
    if (next === null) return null;
    if (isOpen(next)) return next;
    spot = next;
  }
  return null;
}

/**
 * @param {string} step
 * @param {Spot} spot
 * @param {{rows: number, columns: number}} size
 * @returns {Spot | null}
 */
function neighbour(step, { row, column }, { rows, columns }) {
  if (step === "on") {
    if (row + 1 < rows) return { row: row + 1, column };
    return column + 1 < columns ? { row: 0, column: column + 1 } : null;
  }
  if (step === "back") {
    if (row > 0) return { row: row - 1, column };
    return column > 0 ? { row: rows - 1, column: column - 1 } : null;
  }
  /** @type {Record<string, [number, number]>} */
  const ways = { up: [-1, 0], down: [1, 0], left: [0, -1], right: [0, 1] };
  const [down, right] = ways[step];
  const next = { row: row + down, column: column + right };
  const isInside =
    next.row >= 0 && next.row < rows && next.column >= 0 && next.column < columns;
  return isInside ? next : null;
}

/**
 * Which step a key asks for; sideways only from the end of what is typed.
 *
 * @param {{key: string, shiftKey: boolean, ctrlKey: boolean, metaKey: boolean, altKey: boolean}} press
 * @param {{start: number, end: number, length: number}} caret
 * @returns {string | null}
 */
export function stepOf(press, caret) {
  if (press.ctrlKey || press.metaKey || press.altKey) return null;
  if (press.key === "Enter") return press.shiftKey ? "back" : "on";
  if (press.shiftKey) return null;
  const isAll = caret.start === 0 && caret.end === caret.length;
  if (press.key === "ArrowUp") return "up";
  if (press.key === "ArrowDown") return "down";
  if (press.key === "ArrowLeft") return isAll || caret.end === 0 ? "left" : null;
  if (press.key === "ArrowRight") return isAll || caret.start === caret.length ? "right" : null;
  return null;
}

/**
 * @param {HTMLTableElement} table
 * @returns {(HTMLInputElement | null)[][]} the fields by row and column, null where there is none
 */
function fieldsOf(table) {
  return Array.from(table.tBodies[0].rows, (row) =>
    Array.from(row.querySelectorAll("td"), (cell) => cell.querySelector("input")),
  );
}

/** @param {HTMLTableElement} table */
function bindKeys(table) {
  const fields = fieldsOf(table);
  const size = { rows: fields.length, columns: fields[0]?.length ?? 0 };
  fields.forEach((line, row) =>
    line.forEach((field, column) => {
      field?.addEventListener("keydown", (press) => {
        const caret = {
          start: field.selectionStart ?? 0,
          end: field.selectionEnd ?? 0,
          length: field.value.length,
        };
        const step = stepOf(press, caret);
        if (step === null) return;
        press.preventDefault();
        const spot = spotAfter(step, { row, column }, size, (s) => fields[s.row][s.column] !== null);
        if (spot !== null) fields[spot.row][spot.column]?.focus();
      });
      field?.addEventListener("focus", () => field.select());
    }),
  );
}

/**
 * @param {HTMLTableElement} table
 * @param {HTMLOutputElement | null} said
 */
function countTyped(table, said) {
  if (said === null) return;
  const typed = Array.from(table.querySelectorAll("input")).filter((f) => f.value.trim()).length;
  said.hidden = typed === 0;
  said.textContent = typed === 1 ? "1 number typed." : `${typed} numbers typed.`;
}

if (typeof document !== "undefined") {
  const table = /** @type {HTMLTableElement | null} */ (document.querySelector(".paper-table"));
  if (table !== null) {
    const said = /** @type {HTMLOutputElement | null} */ (document.querySelector(".paper-count"));
    bindKeys(table);
    table.addEventListener("input", () => countTyped(table, said));
    countTyped(table, said);
    document.querySelector(".paper-keys")?.removeAttribute("hidden");
    /** @type {HTMLElement | null} */ (table.querySelector("[aria-invalid]"))?.focus();
  }
}
