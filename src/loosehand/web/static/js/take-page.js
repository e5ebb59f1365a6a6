// @ts-check
// The take page: the sound plays along the plots. Without this, the browser's own player does.

import { heldAt, placeInWords, steppedBy, timeOfCount, timeOfX, xOfTime } from "./take-time.js";

const STEPS = new Map([
  ["ArrowRight", 1],
  ["ArrowUp", 1],
  ["ArrowLeft", -1],
  ["ArrowDown", -1],
  ["PageUp", 8],
  ["PageDown", -8],
]);

const audio = /** @type {HTMLAudioElement | null} */ (document.getElementById("take-audio"));
const seek = document.getElementById("seek");
if (audio && seek) playAlong(audio, seek);

/**
 * @param {HTMLElement} seek
 * @returns {import("./take-time.js").TakeTimes}
 */
function timesOf(seek) {
  const said = seek.dataset;
  const hasCounts = said.firstCountS !== undefined;
  return {
    duration_s: Number(said.durationS),
    left: Number(said.left),
    span: Number(said.span),
    first_count_s: hasCounts ? Number(said.firstCountS) : null,
    count_s: Number(said.countS ?? 1),
    counts: Number(said.counts ?? 0),
  };
}

/**
 * Wire the page up.
 * @param {HTMLAudioElement} audio
 * @param {HTMLElement} seek
 */
function playAlong(audio, seek) {
  const take = timesOf(seek);
  const page = {
    play: element("play"),
    where: element("where"),
    line: element("playing-line"),
    scroll: element("take-scroll"),
  };

  /** Show where the sound stands. */
  function show() {
    const time_s = audio.currentTime;
    const x = xOfTime(take, time_s).toFixed(1);
    page.line.setAttribute("x1", x);
    page.line.setAttribute("x2", x);
    const words = placeInWords(take, time_s);
    page.where.textContent = words;
    seek.setAttribute("aria-valuenow", time_s.toFixed(1));
    seek.setAttribute("aria-valuetext", words);
  }

  /** @param {number} time_s */
  function goTo(time_s) {
    audio.currentTime = time_s;
    show();
    keepInSight(page.scroll, xOfTime(take, time_s));
  }

  function playOrPause() {
    if (audio.paused) play(audio);
    else audio.pause();
  }

  /** Follow the sound for as long as it plays. */
  function follow() {
    goRound(audio, take);
    show();
    if (audio.paused) return;
    keepInSight(page.scroll, xOfTime(take, audio.currentTime));
    requestAnimationFrame(follow);
  }

  page.play.addEventListener("click", playOrPause);
  audio.addEventListener("play", () => {
    page.play.textContent = "Pause";
    requestAnimationFrame(follow);
  });
  audio.addEventListener("pause", () => (page.play.textContent = "Play"));
  audio.addEventListener("seeked", show);
  seek.addEventListener("click", (event) => {
    goTo(timeOfX(take, event.clientX - seek.getBoundingClientRect().left));
  });
  seek.addEventListener("keydown", (event) => {
    const to_s = keyed(take, audio.currentTime, event.key);
    if (to_s !== null) goTo(to_s);
    else if (event.key === " " || event.key === "Enter") playOrPause();
    else return;
    event.preventDefault();
  });
  wireClick(audio);
  wireSpeed(audio);
  wirePick(audio, take);
  for (const id of ["seek", "player-controls", "pick"]) {
    document.getElementById(id)?.removeAttribute("hidden");
  }
  element("plain-sounds").hidden = true;
  audio.controls = false;
  show();
}

/**
 * Play; a browser that will not says so itself.
 * @param {HTMLAudioElement} audio
 */
function play(audio) {
  audio.play().catch(() => undefined);
}

/**
 * Time that a key leads to, or null.
 * @param {import("./take-time.js").TakeTimes} take
 * @param {number} time_s
 * @param {string} key
 */
function keyed(take, time_s, key) {
  if (key === "Home") return 0;
  if (key === "End") return take.duration_s;
  const step = STEPS.get(key);
  return step === undefined ? null : steppedBy(take, time_s, step);
}

/**
 * Let the click be as recorded, taken out, or added; the sound goes on from where it stands.
 * @param {HTMLAudioElement} audio
 */
function wireClick(audio) {
  const address = (audio.getAttribute("src") ?? "").split("?")[0];
  /** @type {{ time_s: number, plays: boolean } | null} */
  let goesOn = null;
  for (const choice of document.querySelectorAll('input[name="click"]')) {
    choice.addEventListener("change", () => {
      const value = /** @type {HTMLInputElement} */ (choice).value;
      // Chosen again before the sound before it was there: it still goes on from where it stood.
      goesOn ??= { time_s: audio.currentTime, plays: !audio.paused };
      audio.src = value ? `${address}?click=${value}` : address;
      audio.load();
    });
  }
  audio.addEventListener("loadedmetadata", () => {
    if (goesOn === null) return;
    const { time_s, plays } = goesOn;
    goesOn = null;
    audio.currentTime = time_s;
    if (plays) play(audio);
  });
}

/**
 * Half speed, with the pitch kept or let fall by an octave.
 * @param {HTMLAudioElement} audio
 */
function wireSpeed(audio) {
  const half = input("half-speed");
  const keep = input("keep-pitch");
  const set = () => {
    audio.preservesPitch = keep.checked;
    audio.defaultPlaybackRate = audio.playbackRate = half.checked ? 0.5 : 1;
  };
  half.addEventListener("change", set);
  keep.addEventListener("change", set);
}

/**
 * Go back to the first of the counts to repeat, once past the last.
 * @param {HTMLAudioElement} audio
 * @param {import("./take-time.js").TakeTimes} take
 */
function goRound(audio, take) {
  const loop = /** @type {HTMLInputElement | null} */ (document.getElementById("loop"));
  if (!loop?.checked) return;
  const from_s = timeOfCount(take, input("loop-from").valueAsNumber);
  const to_s = timeOfCount(take, input("loop-to").valueAsNumber + 1);
  if (!(to_s > from_s)) return;
  if (audio.currentTime >= to_s || audio.currentTime < from_s - take.count_s) {
    audio.currentTime = from_s;
  }
}

/**
 * Put the break where the sound stands.
 * @param {HTMLAudioElement} audio
 * @param {import("./take-time.js").TakeTimes} take
 */
function wirePick(audio, take) {
  document.getElementById("pick")?.addEventListener("click", () => {
    const held = heldAt(take, audio.currentTime);
    input("count-held").value = String(held);
    const x = xOfTime(take, timeOfCount(take, held + 1)).toFixed(1);
    const line = element("picked-line");
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    element("picked").textContent =
      held >= take.counts
        ? `All ${held} counts held.`
        : `The sound stands in count ${held + 1}: ${held} held. Say why, and let it stand.`;
  });
}

/**
 * Scroll a box sideways so that a pixel of it is seen.
 * @param {HTMLElement} box
 * @param {number} x
 */
function keepInSight(box, x) {
  const seen = x - box.scrollLeft;
  if (seen < 0 || seen > box.clientWidth) box.scrollLeft = x - box.clientWidth / 4;
}

/**
 * @param {string} id
 * @returns {HTMLElement}
 */
function element(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no ${id}`);
  return found;
}

/**
 * @param {string} id
 * @returns {HTMLInputElement}
 */
function input(id) {
  return /** @type {HTMLInputElement} */ (element(id));
}
