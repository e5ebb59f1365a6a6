// A drummer in the page's own sound, in place of the microphone: for the tests of the stand.
// The microphone is a node of the page's context. Clicks and cues bleed into it after a while,
// and strokes are struck against the clicks that were set going.
(() => {
  const ROUND_TRIP_S = 0.031;
  const BLEED = 0.2;
  const RealContext = window.AudioContext;
  const drummer = { takes: [], rounds: [], feels: [], played: [], ready: false, strikes: 0 };
  window.drummer = drummer;
  let context = null;
  let microphone = null;
  let air = null;
  let seed = 7;
  const random = () => {
    seed = (1103515245 * seed + 12345) % 2147483648;
    return seed / 2147483648;
  };
  const gauss = () => Math.sqrt(-2 * Math.log(random() + 1e-12)) * Math.cos(2 * Math.PI * random());

  const strokeBuffer = () => {
    const rate = context.sampleRate;
    const buffer = context.createBuffer(1, Math.round(0.08 * rate), rate);
    const data = buffer.getChannelData(0);
    for (let i = 0; i < data.length; i += 1) {
      const t = i / rate;
      data[i] = 0.1 * gauss() * Math.exp(-t / 0.006) + 0.2 * Math.sin(2 * Math.PI * 320 * t) * Math.exp(-t / 0.015);
    }
    return buffer;
  };
  // A pad in place of drum and microphone: its events carry the moment at which the sound that
  // the drummer plays to comes out.
  const input = { name: "a pad of the tests", onmidimessage: null };
  const padStrike = (at_s) => {
    const stamp = context.getOutputTimestamp();
    const timeStamp = stamp.performanceTime + 1000 * (at_s - stamp.contextTime);
    const source = { stopped: false, stop() { this.stopped = true; } };
    setTimeout(() => {
      if (!source.stopped) {
        input.onmidimessage?.({ data: [0x99, 38, 90], timeStamp });
      }
    }, Math.max(timeStamp - performance.now(), 0));
    return source;
  };
  navigator.requestMIDIAccess = async () => ({ inputs: new Map([["1", input]]) });

  drummer.strike = (at_s, level = 1) => {
    if (drummer.pad) {
      return padStrike(at_s);
    }
    const source = context.createBufferSource();
    const gain = context.createGain();
    gain.gain.value = level;
    source.buffer = strokeBuffer();
    source.connect(gain).connect(microphone);
    source.start(Math.max(at_s, context.currentTime));
    drummer.strikes += 1;
    drummer.played.push(source);
    return source;
  };

  window.AudioContext = class extends RealContext {
    constructor(options) {
      super(options);
      context = this;
      drummer.context = this;
      microphone = this.createMediaStreamDestination();
      drummer.microphone = microphone;
      air = this.createDelay(1);
      air.delayTime.value = ROUND_TRIP_S;
      const bleed = this.createGain();
      air.connect(bleed).connect(microphone);
      const hiss = this.createBuffer(1, this.sampleRate, this.sampleRate);
      const data = hiss.getChannelData(0);
      for (let i = 0; i < data.length; i += 1) {
        // A counting microphone says in every frame which one of its second it is.
        data[i] = drummer.counting ? 0.25 * (i / data.length - 0.5) : 2e-4 * (random() - 0.5);
      }
      bleed.gain.value = drummer.counting ? 0 : BLEED;
      const noise = this.createBufferSource();
      noise.buffer = hiss;
      noise.loop = true;
      noise.connect(microphone);
      noise.start();
    }
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (target, ...rest) {
    if (context && target === context.destination && this instanceof GainNode && this.gain.value > 0) {
      connect.call(this, air);
    }
    return connect.call(this, target, ...rest);
  };
  navigator.mediaDevices.getUserMedia = async () => {
    if (drummer.refused) {
      throw new DOMException("refused by the test", drummer.refused);
    }
    return microphone.stream;
  };

  // What the server tells the page is overheard, so that the drummer plays to it.
  const RealSocket = window.WebSocket;
  let state = null;
  let clicks = null;
  let pending = [];
  window.WebSocket = class extends RealSocket {
    constructor(...words) {
      super(...words);
      drummer.socket = this;
      this.addEventListener("message", (event) => overhear(JSON.parse(event.data)));
    }

    send(data) {
      super.send(data);
      if (typeof data === "string") {
        const message = JSON.parse(data);
        if (message.kind === "begun") {
          drummer.begun = message.frame;
          drummer.rate = context.sampleRate;
          begun(message);
        }
      } else if (drummer.keep) {
        drummer.kept.push(data.slice(0));
      }
    }
  };
  drummer.kept = [];
  drummer.keep = false;

  function overhear(message) {
    if (message.do === "play") {
      clicks = message.clicks;
    } else if (message.do === "hush") {
      for (const source of pending) {
        try { source.stop(); } catch { /* over already */ }
      }
      pending = [];
    } else if (message.do === "show" || message.do === "welcome") {
      const before = state?.phase;
      state = message.state;
      drummer.state = state;
      if (state.phase === "waiting" && before !== "waiting" && state.checked) {
        wake();
      } else if (state.phase === "feel" && before !== "feel") {
        const strokes = drummer.feels.shift() ?? 0;
        for (let k = 0; k < strokes; k += 1) {
          drummer.strike(context.currentTime + 1.1 + 0.4 * k);
        }
      }
    } else if (message.do === "result") {
      drummer.takes.push(message.result);
    }
  }
  function wake() {
    if (drummer.wakes === false) {
      return;
    }
    for (let k = 0; k < 4; k += 1) {
      drummer.strike(context.currentTime + 0.4 + 0.4 * k);
    }
  }
  function begun(message) {
    const rate = context.sampleRate;
    const first_s = message.frame / rate + (drummer.pad ? 0 : ROUND_TRIP_S);
    if (message.round === "check") {
      if (drummer.counting) {
        return;
      }
      for (let k = 0; k < 4; k += 1) {
        drummer.strike(first_s + 7 + 0.5 * k);
      }
      return;
    }
    if (drummer.counting) {
      return;
    }
    const planned = state.planned;
    const script = drummer.rounds[state.index] ?? {};
    const countIn = clicks.filter((click) => click.count < 1).length;
    const count_s = 60 / planned.tempo_bpm;
    const place_s = count_s / planned.places_per_count;
    const places = planned.counts * planned.places_per_count;
    const last = script.stopsAfter === undefined ? places : script.stopsAfter * planned.places_per_count;
    for (let place = 0; place < last; place += 1) {
      const slow = script.slowsFrom === undefined ? 0 : Math.max(place - script.slowsFrom * planned.places_per_count, 0);
      const off_s = 0.005 * gauss() + 0.22 * place_s * slow;
      pending.push(drummer.strike(first_s + countIn * count_s + place * place_s + off_s, 0.8 + 0.4 * random()));
    }
  }
})();
