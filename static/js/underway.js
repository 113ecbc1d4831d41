// What keeps a session under way safe on the phone: one window at a time, every change written, and a
// clock that neither sleeps nor jumps.

/** A clock that moved by more than this against the page's own was set by somebody, or the phone slept. */
const JUMP = 1500;

/**
 * The phone's corrected time, held steady by the page's own clock, which nobody can set. The page's own
 * clock stands still on some phones while they sleep; so after the page was hidden, time that is missing
 * really passed.
 */
export class SteadyClock {
  #phone;
  #anchor;
  #hidden = false;

  constructor(phone) {
    this.#phone = phone;
    this.#anchor = phone.now() - performance.now();
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "hidden") this.#hidden = true;
    });
  }

  now() {
    return this.#anchor + performance.now();
  }

  /** By how much every kept instant must move, because the phone's clock was set; mostly 0. */
  check() {
    const drift = this.#phone.now() - this.now();
    const slept = this.#hidden && drift > 0;
    if (document.visibilityState === "visible") this.#hidden = false;
    if (Math.abs(drift) < JUMP) return 0;
    this.#anchor += drift;
    return slept ? 0 : drift;
  }
}

/**
 * Writes the newest state, always: while one write is on its way, only the newest of what follows waits.
 */
export class Writer {
  #phone;
  #key;
  #tell;
  #wanted = null;
  #running = null;

  /** `tell(kept)`: whether the phone keeps what it is given. */
  constructor(phone, key, tell) {
    this.#phone = phone;
    this.#key = key;
    this.#tell = tell;
  }

  put(state) {
    this.#wanted = state;
    this.#running ??= this.#run();
  }

  /** The page may be gone the next moment: what waits is on its way at once. */
  flush() {
    if (this.#wanted !== null) this.#phone.underway.write(this.#key, this.#wanted).catch(() => {});
  }

  /** Resolves when all that was given is written, or the phone has refused it. */
  async written() {
    await this.#running;
  }

  /** Nothing more is written. Resolves when nothing is on its way any more. */
  async close() {
    this.#wanted = null;
    await this.#running;
  }

  async #run() {
    let kept = true;
    while (kept && this.#wanted !== null) {
      const state = this.#wanted;
      try {
        await this.#phone.underway.write(this.#key, state);
      } catch {
        kept = false;
      }
      if (kept && this.#wanted === state) this.#wanted = null;
      this.#tell(kept);
    }
    this.#running = null;
  }
}

/**
 * Takes a session for this window. Resolves with how to let go of it, or with null where another window
 * has it. `lost` is called when another window takes it away. Browsers without locks have none.
 */
export function hold(name, { take = false, lost }) {
  if (!navigator.locks) return Promise.resolve(() => {});
  return new Promise((resolve) => {
    const options = take ? { steal: true } : { ifAvailable: true };
    const held = (lock) => {
      if (!lock) return resolve(null);
      return new Promise((letGo) => resolve(letGo));
    };
    navigator.locks.request(name, options, held).catch(lost);
  });
}
