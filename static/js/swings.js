// The swing test's arithmetic, without a page: what a time of 20 swings can be, and what three runs say. The domain
// holds to the same (club/swing_test.rs) and has the last word when the form is sent.

export const SWINGS = 20;

/** How far off a hand on a watch is over a run, in seconds: M3, 0.01 s on one swing. */
export const HAND = 0.2;

const GRAVITY = 9.80665;
const ACROSS = 0.15 * 0.15;
const LONGEST = 3;
const SLOWEST = 10;

/** Between which times one swing lies, in seconds, of a club that balances so far from its pivot; metres. What is not
    known of it sets no bound. */
export function bounds(balance, pivot, length) {
  const arm = Math.abs(balance - pivot);
  if (!(arm > 0)) return [0, SLOWEST];
  const swing = (about) => 2 * Math.PI * Math.sqrt((about + arm * arm) / (GRAVITY * arm));
  const long = length > 0 ? length : LONGEST;
  return [swing(0), Math.min(SLOWEST, swing((long * long) / 4 + ACROSS))];
}

/** Why this cannot be the time of 20 swings, or null. */
export function refusal(seconds, [quick, slow]) {
  const [least, most] = [SWINGS * quick, SWINGS * slow];
  if (seconds < Math.max(least - HAND, 2)) {
    return least > 2
      ? `${seconds.toFixed(2)} s is too quick: 20 swings of this club take ${least.toFixed(1)} s at the least. Count there and back as one.`
      : `${seconds.toFixed(2)} s is too quick for 20 swings.`;
  }
  if (seconds > most + HAND) {
    return `${seconds.toFixed(2)} s is too slow: 20 swings of this club take ${most.toFixed(1)} s at the most. Were more than 20 counted?`;
  }
  return null;
}

/** Of taps at the end of each swing, in seconds: the swing during which a tap was missed or doubled, or null. */
export function uneven(taps) {
  const times = taps.slice(1).map((tap, nth) => tap - taps[nth]);
  const middle = [...times].sort((a, b) => a - b)[Math.floor(times.length / 2)];
  const nth = times.findIndex((time) => time > 1.5 * middle || time < 0.5 * middle);
  return nth < 0 ? null : nth + 1;
}

/** The mean of the runs, their spread (sample standard deviation, of two and more), and the ± to type: the spread, or
    the hand's own where that is more. */
export function summary(runs) {
  const mean = runs.reduce((sum, run) => sum + run, 0) / runs.length;
  const squares = runs.reduce((sum, run) => sum + (run - mean) ** 2, 0);
  const spread = runs.length > 1 ? Math.sqrt(squares / (runs.length - 1)) : null;
  return { mean, spread, off: Math.max(HAND, spread ?? 0) };
}
