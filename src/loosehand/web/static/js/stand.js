// @ts-check
/* The stand: one press, then no hands. */

import { Link } from "/static/js/stand-link.js";
import { listenToPads } from "/static/js/stand-pad.js";
import { Sound } from "/static/js/stand-sound.js";
import { View } from "/static/js/stand-view.js";

const CLOCK_MS = 50;
const KEYS = {
  " ": "go",
  Enter: "go",
  PageDown: "go",
  ArrowRight: "go",
  Escape: "stop",
  w: "wait",
  1: "loose",
  2: "working",
  3: "tense",
  4: "pain",
};

const stand = /** @type {HTMLElement} */ (document.getElementById("stand"));
const view = new View();
/** @type {any} */
let state = { phase: "check", outcomes: [], index: 0, rounds: 0, planned: null };
/** @type {Sound | null} */
let sound = null;
/** @type {{clicks: any[], first: number} | null} */
let round = null;
let devices = "";
let changed = false;
let arming = false;
let ticking = 0;

const address = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${stand.dataset.live}`;
const link = new Link(address, take, (there) => {
  if (!there && sound) {
    view.say("The line to the server is down: it is tried again, nothing is lost.");
  } else if (sound) {
    view.say("");
  }
});

/** @param {any} message */
function take(message) {
  switch (message.do) {
    case "welcome":
    case "show":
      if (message.state.phase !== "check" || sound) {
        showState(message.state);
      }
      break;
    case "sounds":
      if (sound) {
        sound.sounds = Object.fromEntries(
          Object.entries(message.sounds).map(([role, wave]) => [role, Float32Array.from(/** @type {any} */ (wave))]),
        );
      }
      break;
    case "play":
      play(message);
      break;
    case "hush":
      sound?.hush();
      break;
    case "cue":
      cue(message);
      break;
    case "strokes":
      view.strokes(message.heard);
      drawn(message.heard);
      break;
    case "mark":
      view.mark(message.held);
      break;
    case "checked":
      view.checked(message.sentences);
      break;
    case "over":
      sound?.hush();
    // falls through
    case "result":
      link.begun = null;
      round = null;
      break;
    case "say":
      view.say(message.sentence);
      break;
    case "refuse":
      refused(message);
      break;
  }
}

/** @param {any} now */
function showState(now) {
  state = now;
  view.show(state);
  for (const button of document.querySelectorAll("[data-phases]")) {
    const phases = /** @type {HTMLElement} */ (button).dataset.phases ?? "";
    /** @type {HTMLElement} */ (button).hidden = !sound || !phases.split(" ").includes(state.phase);
  }
}

/** @param {any} message */
function play(message) {
  if (!sound) {
    return;
  }
  window.speechSynthesis?.cancel();
  const first = sound.play(message.clicks);
  const begun = { kind: "begun", round: message.round, frame: first, index: message.index ?? 0 };
  round = { clicks: message.clicks, first };
  if (message.round === "check") {
    link.say(begun);
  } else {
    link.begin(begun, first - sound.rate_hz);
    view.mark(null);
  }
}

/** @param {any} message */
function cue(message) {
  if (!sound) {
    return;
  }
  sound.cue(message.cue, message.frame);
  const spoken = /** @type {HTMLInputElement | null} */ (document.getElementById("spoken"));
  if (!spoken?.checked || !("speechSynthesis" in window)) {
    return;
  }
  const last = state.outcomes[state.outcomes.length - 1];
  const words = {
    held: last?.held === null || !last ? "How was it?" : `${last.held} held. How was it?`,
    next: state.planned ? `${state.why ?? ""} Next: ${state.planned.hand}, ${state.planned.tempo_bpm}` : "",
    ask: "Pain? One stroke more.",
    done: "Done for today.",
    pain: "Stop for today.",
  };
  const text = /** @type {any} */ (words)[message.cue];
  if (text) {
    speechSynthesis.speak(new SpeechSynthesisUtterance(text));
  }
}

/** Note how long the way was from a stroke's sound to the drawn page.
 * @param {[number, number, number][]} heard */
function drawn(heard) {
  if (!sound || !heard.length) {
    return;
  }
  const frames = heard.map(([frame]) => frame);
  requestAnimationFrame(() => {
    const now = sound ? sound.context.currentTime * sound.rate_hz : 0;
    const log = /** @type {any} */ (window).strokeToScreen_ms ?? [];
    for (const frame of frames) {
      log.push((1000 * (now - frame)) / (sound?.rate_hz ?? 1));
    }
    /** @type {any} */ (window).strokeToScreen_ms = log.slice(-4000);
  });
}

/** @param {any} message */
function refused(message) {
  view.say(message.sentence);
  const over = /** @type {HTMLElement} */ (document.getElementById("take-over"));
  over.hidden = !message.can_take_over;
  sound?.close();
  sound = round = null;
  link.forget();
  clearInterval(ticking);
  document.body.classList.remove("armed");
}

async function arm() {
  if (arming || sound) {
    return;
  }
  arming = true;
  await armOnce();
  arming = false;
}

async function armOnce() {
  const lacking = ["AudioContext", "AudioWorkletNode", "WebSocket"].filter((name) => !(name in window));
  const pad = /** @type {HTMLInputElement} */ (document.getElementById("listens-pad")).checked;
  if (pad && !navigator.requestMIDIAccess) {
    lacking.push("Web MIDI");
  }
  if (!pad && !navigator.mediaDevices?.getUserMedia) {
    lacking.push("a microphone (it needs this computer itself, or a page under https)");
  }
  if (lacking.length) {
    view.say(`This browser has no ${lacking.join(", no ")}: use another, or record a file and send it.`);
    return;
  }
  const made = new Sound(String(stand.dataset.worklet), Number(stand.dataset.level));
  try {
    await made.context.resume();
    sound = made;
    link.rate_hz = made.rate_hz;
    const settings = pad ? await armPad(made) : await made.listen((frame, samples) => link.sound(frame, samples), lose);
    await greet(made, pad, settings);
  } catch (error) {
    sound = null;
    await made.close();
    view.say(refusal(error));
  }
}

/** @param {any} error */
function refusal(error) {
  const why = {
    NotAllowedError: "The microphone was refused: allow it for this page, and press again.",
    NotFoundError: "There is no microphone: plug one in, and press again.",
    NotReadableError: "Another program holds the microphone: close it there, and press again.",
    SecurityError: "The browser keeps this page from its sound: open it on this computer itself.",
  };
  return /** @type {any} */ (why)[error?.name] ?? `The sound could not be started (${error?.message ?? error}).`;
}

/** @param {Sound} made */
async function armPad(made) {
  const names = await listenToPads(made.context, (frame, note, velocity) =>
    link.strike({ kind: "pad", frame: Math.max(frame, 0), note, velocity }),
  );
  const heard = () => Math.max(Math.floor(made.heardTime_s * made.rate_hz), 0);
  ticking = setInterval(() => link.say({ kind: "clock", frame: heard() }), CLOCK_MS);
  view.say(names.length ? `Listening to ${names.join(", ")}.` : "No pad is plugged in yet.");
  return { inputs: names };
}

/**
 * @param {Sound} made
 * @param {boolean} pad
 * @param {any} settings
 */
async function greet(made, pad, settings) {
  link.arming = {
    kind: "arm",
    rate: made.rate_hz,
    listens: pad ? "pad" : "microphone",
    settings,
    latency_s: Math.min(made.outputLatency_s, 2),
    waits: /** @type {HTMLInputElement} */ (document.getElementById("waits")).checked,
    spoken: /** @type {HTMLInputElement} */ (document.getElementById("spoken")).checked,
  };
  document.body.classList.add("armed");
  /** @type {HTMLElement} */ (document.getElementById("arming")).hidden = true;
  link.say(link.arming);
  if (!pad) {
    link.say({ kind: "check" });
  }
  showState(state);
  made.context.addEventListener("statechange", () => {
    if (made.context.state !== "running" && sound === made) {
      lose("interrupted");
      made.context.resume();
    }
  });
  devices = await deviceNames();
  await stayAwake();
  requestAnimationFrame(draw);
}

/** @param {string} why */
function lose(why) {
  sound?.hush();
  link.begun = null;
  link.say({ kind: "void", why, check_again: why === "device" });
  if (why === "device") {
    link.say({ kind: "check" });
  }
  if (why === "microphone") {
    /** @type {HTMLElement} */ (document.getElementById("reload")).hidden = false;
  }
}

async function deviceNames() {
  const all = (await navigator.mediaDevices?.enumerateDevices?.()) ?? [];
  return all.map((device) => `${device.kind} ${device.deviceId}`).sort().join("\n");
}

async function stayAwake() {
  let awake = null;
  try {
    awake = await /** @type {any} */ (navigator).wakeLock?.request("screen");
  } catch {
    // A screen that may sleep is said below, and is no fault.
  }
  /** @type {HTMLElement} */ (document.getElementById("sleepy")).hidden = Boolean(awake);
}

function draw() {
  if (!sound) {
    return;
  }
  const now = sound.heardTime_s;
  const since_s = round ? now - round.first / sound.rate_hz : 0;
  const left_s = state.until_frame === null ? 0 : state.until_frame / sound.rate_hz - sound.context.currentTime;
  view.tick(state, round ? { clicks: round.clicks, since_s } : null, left_s);
  requestAnimationFrame(draw);
}

/** @param {string} key */
function press(key) {
  if (key === "go" && state.phase === "round") {
    link.say({ kind: "key", key: "stop" });
  } else {
    link.say({ kind: "key", key });
  }
}

document.getElementById("arm")?.addEventListener("click", arm);
document.getElementById("take-over")?.addEventListener("click", () => {
  link.takeOver = true;
  link.closed = false;
  link.open();
  /** @type {HTMLElement} */ (document.getElementById("arming")).hidden = false;
  /** @type {HTMLElement} */ (document.getElementById("take-over")).hidden = true;
});
document.getElementById("reload")?.addEventListener("click", () => location.reload());
document.getElementById("check-again")?.addEventListener("click", () => link.say({ kind: "check" }));
for (const button of document.querySelectorAll("[data-key]")) {
  button.addEventListener("click", () => press(String(/** @type {HTMLElement} */ (button).dataset.key)));
}
for (const button of document.querySelectorAll("[data-theme-choice]")) {
  button.addEventListener("click", () => {
    document.documentElement.dataset.theme = String(/** @type {HTMLElement} */ (button).dataset.themeChoice);
  });
}
document.addEventListener("keydown", (event) => {
  const chord = event.ctrlKey || event.metaKey || event.altKey;
  const key = chord ? null : /** @type {any} */ (KEYS)[event.key];
  const onControl = event.target instanceof HTMLElement && event.target.closest("button, a, input, select, summary");
  if (sound && key && !event.repeat && !(onControl && (event.key === " " || event.key === "Enter"))) {
    event.preventDefault();
    press(key);
  }
});
document.addEventListener("visibilitychange", () => {
  if (sound && document.visibilityState === "visible") {
    stayAwake();
  }
});
navigator.mediaDevices?.addEventListener?.("devicechange", async () => {
  if (!sound || changed) {
    return;
  }
  changed = true;
  const now = await deviceNames();
  changed = false;
  if (now !== devices) {
    devices = now;
    lose("device");
  }
});
link.open();
