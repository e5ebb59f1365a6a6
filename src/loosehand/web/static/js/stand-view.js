// @ts-check
/* What the stand shows: one big figure, a few big words, a stick that leans. Calm, never a score. */

import { countShown } from "/static/js/rhythm.js";

const STEADY = 0.35;
const FIGURES = { check: "♪", waiting: "4", judging: "…", done: "✓", pain: "–" };
const RESTS = ["rest", "waiting"];
const FEELS = "1 loose · 2 working · 3 tense · 4 pain";

/** @param {string} id */
const find = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @param {any} planned */
const hands = (planned) =>
  planned.kind === "warm-up" ? "Warm up" : `${planned.hand[0].toUpperCase()}${planned.hand.slice(1)}`;

export class View {
  constructor() {
    this.figure = find("figure");
    this.line = find("line");
    this.next = find("next");
    this.stick = find("stick");
    this.dot = find("dot");
    this.sentence = find("sentence");
    this.status = find("status");
    this.lean = 0;
    this.level = 0.5;
    /** @type {number[]} */
    this.levels = [];
  }

  /** @param {any} state */
  show(state) {
    document.body.dataset.phase = state.phase;
    const last = state.outcomes[state.outcomes.length - 1];
    const planned = state.planned;
    const comes = planned ? `${hands(planned)} ${planned.tempo_bpm}` : "";
    this.figure.textContent = /** @type {any} */ (FIGURES)[state.phase] ?? "";
    const lines = {
      check: "Listening to the room",
      waiting: "Four strokes begin",
      round: comes,
      judging: "Reading",
      feel: "How was it?",
      confirm: "Pain? One stroke more",
      rest: "Rest",
      done: "Done for today",
      pain: "Stop for today",
    };
    this.line.textContent = /** @type {any} */ (lines)[state.phase] ?? "";
    this.next.textContent = this.nextLine(state, comes);
    if (state.phase === "feel" || state.phase === "confirm") {
      this.figure.textContent = last && last.held !== null ? String(last.held) : "–";
      this.line.textContent = state.phase === "feel" && last?.held !== null ? `${last.held} held` : this.line.textContent;
    }
    if (state.phase !== "round") {
      this.mark(null);
    }
    const why = RESTS.includes(state.phase) ? (state.why ?? "") : "";
    find("why").textContent = why;
    find("why").hidden = !why;
    find("care").hidden = state.phase !== "pain";
    find("to-chart").hidden = state.phase !== "done" && state.phase !== "pain";
    const spoken = `${this.line.textContent}. ${this.next.textContent}${why ? `. ${why}` : ""}`;
    if (this.status.textContent !== spoken) {
      this.status.textContent = spoken;
    }
  }

  /**
   * @param {any} state
   * @param {string} comes
   */
  nextLine(state, comes) {
    switch (state.phase) {
      case "feel":
      case "confirm":
        return FEELS;
      case "waiting":
      case "rest":
        return comes ? `Next: ${comes}` : "";
      case "round":
        return `${state.index + 1} of ${state.rounds}`;
      default:
        return "";
    }
  }

  /**
   * The figure while time moves: the count, or seconds of rest.
   * @param {any} state
   * @param {{clicks: any[], since_s: number} | null} round
   * @param {number} left_s
   */
  tick(state, round, left_s) {
    let figure = null;
    let countIn = false;
    if (state.phase === "round" && round) {
      ({ figure, countIn } = countShown(round.clicks, round.since_s));
    } else if (state.phase === "rest") {
      figure = String(Math.max(Math.ceil(left_s), 0));
    }
    if (figure !== null && this.figure.textContent !== figure) {
      this.figure.textContent = figure;
    }
    document.body.classList.toggle("count-in", countIn);
  }

  /** @param {[number, number, number][]} heard frames, levels, leans */
  strokes(heard) {
    for (const [, level_db, lean] of heard) {
      this.levels = [...this.levels, level_db].slice(-48);
      const loudest = Math.max(...this.levels);
      this.lean += STEADY * (lean - this.lean);
      this.level += STEADY * (Math.max(0, 1 + (level_db - loudest) / 24) - this.level);
    }
    this.stick.setAttribute("transform", `rotate(${(28 * this.lean).toFixed(1)} 50 90)`);
    this.dot.setAttribute("r", (3 + 6 * this.level).toFixed(1));
    const word = this.lean < -0.33 ? "ahead" : this.lean > 0.33 ? "behind" : "with it";
    const where = find("where");
    if (where.textContent !== word) {
      where.textContent = word;
    }
  }

  /** The first break is only marked.
   * @param {number | null} held */
  mark(held) {
    const mark = find("mark");
    mark.hidden = held === null;
    mark.textContent = held === null ? "" : `slipped after ${held}`;
  }

  /** @param {string} sentence */
  say(sentence) {
    this.sentence.textContent = sentence;
  }

  /** @param {string[]} sentences */
  checked(sentences) {
    const list = find("checked");
    list.replaceChildren(
      ...sentences.map((sentence) => {
        const item = document.createElement("li");
        item.textContent = sentence;
        return item;
      }),
    );
  }
}
