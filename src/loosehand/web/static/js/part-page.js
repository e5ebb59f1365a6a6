// @ts-check
// A part's page: the staff is drawn while the text is typed, and the text follows the staff.

import { wireListen } from "./part-listen.js";
import { EDIT_KEYS, kept, moved, said, strokeAt } from "./part-select.js";
import { barsOf, mark, pointed, showSection } from "./part-staff.js";
import { placeMark, sayProblem, sectionOf } from "./part-text.js";

const WAIT_MS = 250;
const MOST_UNDONE = 200;

const element = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const box = element("staff");
const area = /** @type {HTMLTextAreaElement} */ (element("text"));
const form = /** @type {HTMLFormElement} */ (element("part-form"));

const state = {
  /** @type {import("./part-select.js").BarShown[]} */ bars: [],
  /** @type {import("./part-select.js").Chosen} */ at: { index: 0, place: 0, limb: 0 },
  /** @type {import("./part-text.js").Problem | null} */ problem: null,
  /** @type {string[]} */ undone: [],
  limbs: /** @type {string[]} */ ([]),
  isChosen: false,
  asked: 0,
  from: "0",
  savedText: area.defaultValue,
  timer: 0,
  width: 0,
};
let turn = Promise.resolve();
const sayChanged = wireListen({
  ask: (words) => ask("/part/listen", words), section: sectionNow, take, isKept,
});

function pieces() {
  return /** @type {HTMLElement | null} */ (box.querySelector(".staff-pieces"));
}

/**
 * Ask the server; null where it cannot be reached.
 * @param {string} address
 * @param {Record<string, string>} words
 */
async function ask(address, words) {
  const body = new URLSearchParams({
    text: area.value, from: state.from, width: String(roomFor()), ...words,
  });
  for (const choice of under()) if (choice.checked) body.set(choice.name, choice.value);
  try {
    const answer = await fetch(address, { method: "POST", body });
    return await answer.json();
  } catch {
    const sentence = "The computer that runs Loosehand does not answer: your text is kept in this page.";
    return { problem: { sentence, line: null, column: null, shown: null } };
  }
}

/** Boxes that say what stands under the notes. */
function under() {
  return /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("input[type=checkbox]")]);
}

function roomFor() {
  return Math.max(200, Math.floor(box.clientWidth - 24));
}

async function draw() {
  const number = (state.asked += 1);
  state.width = roomFor();
  const section = document.activeElement === area ? sectionOf(area.value, area.selectionEnd) : null;
  const answer = await ask("/part/draw", section === null ? {} : { section: String(section) });
  if (number !== state.asked) return;
  take(answer);
  const staff = pieces();
  if (staff && section !== null) showSection(staff, section);
}

/**
 * Show an answer: the staff, or what is wrong.
 * @param {{ problem: import("./part-text.js").Problem | null, staff?: string }} answer
 */
function take(answer) {
  if (answer.staff !== undefined) putStaff(answer.staff);
  const isOfText = answer.problem !== null && answer.problem.line !== null;
  element("staff-section").classList.toggle("is-stale", isOfText);
  element("stale").hidden = !isOfText;
  state.problem = answer.problem;
  sayProblem(element("problem"), area, state.problem);
  placeMark(element("fault-mark"), area, state.problem);
}

/** @param {string} html */
function putStaff(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html;
  const stands = pieces();
  const fresh = /** @type {HTMLElement} */ (holder.content.querySelector(".staff-pieces"));
  if (!stands) {
    box.replaceChildren(holder.content);
  } else {
    const hadFocus = document.activeElement === stands;
    stands.replaceChildren(...fresh.children);
    for (const name of ["bars", "from", "limbs"]) stands.dataset[name] = fresh.dataset[name];
    fresh.replaceWith(stands);
    box.replaceChildren(holder.content);
    if (hadFocus) stands.focus({ preventScroll: true });
  }
  wireStaff();
}

/** Read what the staff says of itself, and let it be worked on. */
function wireStaff() {
  const staff = pieces();
  if (!staff) return;
  const before = state.bars;
  state.bars = barsOf(staff);
  state.limbs = (staff.dataset.limbs ?? "").split(",");
  state.from = staff.dataset.from ?? "0";
  if (before.length) state.at = kept(before, state.bars, state.at);
  staff.tabIndex = 0;
  staff.classList.add("is-live");
  staff.setAttribute("role", "application");
  staff.setAttribute("aria-label", "Staff");
  staff.setAttribute("aria-describedby", "keys chosen");
  element("pen").hidden = false;
  if (state.isChosen) show();
}

/** Mark and say what is chosen. */
function show() {
  const staff = pieces();
  if (!staff || !state.bars.length) return;
  state.isChosen = true;
  mark(staff, state.bars, state.at, state.limbs);
  element("chosen").textContent = said(state.bars, state.at, state.limbs);
  const stroke = strokeAt(state.bars, state.at);
  for (const button of document.querySelectorAll("#pen button")) {
    const { limb, edit } = /** @type {HTMLElement} */ (button).dataset;
    const isOn = limb !== undefined
      ? Number(limb) === state.at.limb
      : edit === "stroke" ? stroke !== null : stroke?.marks.includes(edit ?? "");
    if (button.hasAttribute("aria-pressed")) button.setAttribute("aria-pressed", String(Boolean(isOn)));
  }
}

/**
 * Make one change, after those before it.
 * @param {string} name
 */
function edit(name) {
  turn = turn.then(async () => {
    const bar = state.bars[state.at.index];
    if (!bar) return;
    state.isChosen = true;
    const number = (state.asked += 1);
    const before = area.value;
    const where = { section: bar.section, bar: bar.bar, place: state.at.place, limb: state.at.limb };
    const words = Object.fromEntries(Object.entries(where).map(([key, value]) => [key, String(value)]));
    const answer = await ask("/part/edit", { ...words, edit: name });
    if (number !== state.asked) return;
    if (answer.text !== undefined) {
      state.undone.push(before);
      if (state.undone.length > MOST_UNDONE) state.undone.shift();
      area.value = answer.text;
      state.at = { ...state.at, limb: answer.limb };
      sayKept();
    }
    take(answer);
    if (answer.problem) element("chosen").textContent = answer.problem.sentence;
    element("undo").toggleAttribute("disabled", state.undone.length === 0);
  });
}

/** Take the last change back, after those that are being made. */
function undo() {
  turn = turn.then(() => {
    const before = state.undone.pop();
    if (before === undefined) return undefined;
    area.value = before;
    element("undo").toggleAttribute("disabled", state.undone.length === 0);
    sayKept();
    return draw();
  });
}

function isKept() {
  return area.value === state.savedText;
}

/** The section that is worked on, from 0: of the place on the staff, else of the text's caret. */
function sectionNow() {
  const bar = state.isChosen && document.activeElement !== area ? state.bars[state.at.index] : null;
  return bar ? bar.section : sectionOf(area.value, area.selectionEnd);
}

/** Say what a change has left behind. */
function sayKept() {
  sayChanged();
  element("kept").textContent = isKept() ? "Saved." : "Not saved yet.";
}

/** @param {KeyboardEvent} event */
function keyed(event) {
  const isUndo = (event.ctrlKey || event.metaKey) && event.key === "z";
  if (isUndo) undo();
  else if (event.ctrlKey || event.metaKey || event.altKey) return;
  else {
    const to = moved(state.bars, state.at, event.key, state.limbs.length);
    const change = EDIT_KEYS.get(event.key.length === 1 ? event.key.toLowerCase() : event.key);
    if (to) {
      state.at = to;
      show();
    } else if (change) edit(change);
    else return;
  }
  event.preventDefault();
}

function wirePage() {
  area.addEventListener("input", () => {
    sayKept();
    state.asked += 1;
    clearTimeout(state.timer);
    state.timer = window.setTimeout(draw, WAIT_MS);
  });
  for (const choice of under()) choice.addEventListener("change", () => void draw());
  area.addEventListener("scroll", () => placeMark(element("fault-mark"), area, state.problem));
  box.addEventListener("keydown", (event) => {
    if (event.target === pieces()) keyed(event);
  });
  box.addEventListener("focusin", (event) => {
    if (event.target === pieces()) show();
  });
  box.addEventListener("click", (event) => {
    const leaf = /** @type {Element} */ (event.target).closest("a[data-from]");
    if (leaf) {
      event.preventDefault();
      state.from = /** @type {HTMLElement} */ (leaf).dataset.from ?? "0";
      void draw();
      return;
    }
    const at = pointed(state.bars, event, state.at.limb, state.limbs);
    if (!at) return;
    state.at = at;
    pieces()?.focus({ preventScroll: true });
    show();
  });
  element("pen").addEventListener("click", (event) => {
    const button = /** @type {HTMLElement | null} */ (
      /** @type {Element} */ (event.target).closest("button")
    );
    if (button?.dataset.limb) {
      state.at = { ...state.at, limb: Number(button.dataset.limb) };
      show();
    } else if (button?.dataset.edit) edit(button.dataset.edit);
    else if (button?.id === "undo") undo();
  });
  window.addEventListener("resize", () => {
    clearTimeout(state.timer);
    state.timer = window.setTimeout(() => roomFor() !== state.width && draw(), WAIT_MS);
  });
  let isSending = false;
  form.addEventListener("submit", () => (isSending = true));
  window.addEventListener("beforeunload", (event) => {
    if (!isKept() && !isSending) event.preventDefault();
  });
}

if (box.dataset.kept === "no") state.savedText = "\u0000";
wirePage();
wireStaff();
if (roomFor() < Number(box.dataset.width ?? 0)) void draw();
