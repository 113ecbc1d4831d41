// What an athlete hears and feels between swings, and what keeps the screen awake. Each can be turned
// off, and none is needed: whatever a phone does not have is left out in silence.

/** Tones as [hertz, seconds from now, seconds long]. */
const TONES = {
  tick: [[620, 0, 0.07]],
  go: [[930, 0, 0.45]],
  change: [
    [740, 0, 0.18],
    [494, 0.2, 0.18],
    [740, 0.4, 0.18],
    [494, 0.6, 0.3],
  ],
  over: [[494, 0, 0.8]],
  soon: [[620, 0, 0.12]],
  rested: [
    [620, 0, 0.12],
    [930, 0.16, 0.25],
  ],
};

/** Buzzes: on, off, on, … in milliseconds. */
const BUZZES = {
  tick: [40],
  go: [300],
  change: [250, 100, 250, 100, 250],
  over: [700],
  soon: [80],
  rested: [120, 80, 120],
};

export class Signals {
  #sound;
  #vibration;
  #speaker = null;
  #lock = null;
  #awake = false;

  constructor({ sound, vibration }) {
    this.#sound = sound;
    this.#vibration = vibration;
    document.addEventListener("visibilitychange", () => {
      // The browser lets go of the screen whenever the page is hidden.
      if (document.visibilityState === "visible" && this.#awake) this.stayAwake();
    });
  }

  /** A browser makes no sound before somebody touched the page: call this from a tap. */
  unlock() {
    if (!this.#sound || !globalThis.AudioContext) return;
    this.#speaker ??= new AudioContext();
    if (this.#speaker.state !== "running") this.#speaker.resume().catch(() => {});
  }

  /** One of the signals by its name. */
  give(name) {
    if (this.#vibration) navigator.vibrate?.(BUZZES[name]);
    if (this.#speaker?.state !== "running") return;
    for (const [hertz, from, long] of TONES[name]) this.#tone(hertz, from, long);
  }

  #tone(hertz, from, long) {
    const begins = this.#speaker.currentTime + from;
    const tone = new OscillatorNode(this.#speaker, { type: "triangle", frequency: hertz });
    const loudness = new GainNode(this.#speaker, { gain: 0 });
    // Faded in and out, or it clicks.
    loudness.gain.setValueAtTime(0, begins);
    loudness.gain.linearRampToValueAtTime(0.9, begins + 0.01);
    loudness.gain.setValueAtTime(0.9, begins + long - 0.02);
    loudness.gain.linearRampToValueAtTime(0, begins + long);
    tone.connect(loudness).connect(this.#speaker.destination);
    tone.start(begins);
    tone.stop(begins + long);
  }

  /** Keeps the screen on while a session runs, where the browser can. */
  async stayAwake() {
    this.#awake = true;
    try {
      this.#lock = (await navigator.wakeLock?.request("screen")) ?? null;
      // The session may have ended while the browser thought about it.
      if (!this.#awake) this.rest();
    } catch {
      // A phone short of power refuses; the session goes on all the same.
    }
  }

  /** Lets the screen go dark again. */
  rest() {
    this.#awake = false;
    this.#lock?.release().catch(() => {});
    this.#lock = null;
  }
}
