// @ts-check
// The text as it stands is heard, saved or not: the server says where, the page's player plays it.

/** @typedef {import("./part-text.js").Problem} Problem */
/** @typedef {{ problem: Problem | null, address?: string }} Answer */

const CLICK = "with a click, four counts before it.";

/**
 * Let the buttons play the text; return what is to be called when it changes.
 * @param {object} page
 * @param {(words: Record<string, string>) => Promise<Answer>} page.ask where the text is heard
 * @param {() => number} page.section the one that is worked on, from 0
 * @param {(answer: Answer) => void} page.take shows what is wrong with the text
 * @param {() => boolean} page.isKept whether the text is saved as it stands
 */
export function wireListen({ ask, section, take, isKept }) {
  const sound = /** @type {HTMLAudioElement} */ (document.getElementById("sound"));
  const said = /** @type {HTMLElement} */ (document.getElementById("sound-said"));
  let asked = 0;

  /** @param {Record<string, string>} words */
  async function listen(words) {
    const number = (asked += 1);
    const what = words.section ? `Section ${words.section} as` : "As";
    const how = isKept() ? "it is saved" : "the text stands above, not saved yet";
    said.textContent = "One moment.";
    const answer = await ask(words);
    if (number !== asked) return;
    take(answer);
    if (answer.problem || !answer.address) {
      said.textContent = "Not heard: what is wrong is said beside the text.";
      return;
    }
    sound.pause();
    sound.src = answer.address;
    said.textContent = `${what} ${how}, ${CLICK}`;
    // Where a browser lets nothing sound by itself, the player waits for its own button.
    await sound.play().catch(() => undefined);
  }

  const buttons = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll("[data-listen]")]);
  for (const button of buttons) {
    const isOfSection = button.dataset.listen === "section";
    button.hidden = false;
    button.addEventListener("click", (event) => {
      event.preventDefault();
      if (!isOfSection && !sound.paused) sound.pause();
      else void listen(isOfSection ? { section: String(section() + 1) } : {});
    });
    if (isOfSection) continue;
    sound.addEventListener("play", () => (button.textContent = "Stop"));
    sound.addEventListener("pause", () => (button.textContent = "Listen"));
  }
  sound.addEventListener("error", () => {
    said.textContent = "The sound did not come: press Listen.";
  });
  return () => {
    asked += 1;
    said.textContent = "The text was changed since: press Listen to hear it as it stands.";
  };
}
