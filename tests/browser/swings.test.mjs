// The swing test's arithmetic by itself, with node's own test runner.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";

const source = await readFile(new URL("../../static/js/swings.js", import.meta.url), "utf8");
const { SWINGS, bounds, refusal, summary, uneven } = await import(`data:text/javascript,${encodeURIComponent(source)}`);

const near = (one, other, by = 1e-4) => assert.ok(Math.abs(one - other) < by, `${one} is not ${other}`);

// OpenStax University Physics vol. 1 § 15.4, the physical pendulum: T = 2π√(I/mgd). A uniform rod hung by its end has I = mL²/3
// (§ 10.5) and d = L/2, so 1 m swings in 1.6382 s. The ends of the range by hand, as in the domain's swing_test.rs.
test("a uniform rod of 1 m, hung by its end, is taken", () => {
  const rod = bounds(0.5, 0, 1);
  near(rod[0], 1.41875);
  near(rod[1], 2.05106);
  assert.equal(refusal(SWINGS * 1.6382, rod), null);
});

test("what no body of that size can do is refused, with the reason", () => {
  const rod = bounds(0.5, 0, 1);
  assert.match(refusal(SWINGS * 0.8191, rod), /too quick.*28\.4 s/, "there and back counted as two");
  assert.match(refusal(SWINGS * 2.2, rod), /too slow.*41\.0 s/);
  // A hand on a watch may be 0.2 s off, and no more.
  assert.equal(refusal(SWINGS * rod[0] - 0.19, rod), null);
  assert.notEqual(refusal(SWINGS * rod[0] - 0.21, rod), null);
});

test("of what is not known nothing is guessed", () => {
  for (const unknown of [bounds(NaN, 0, 1), bounds(0.5, NaN, NaN), bounds(0.5, 0.5, 1)]) {
    assert.deepEqual(unknown, [0, 10]);
    assert.equal(refusal(32.764, unknown), null);
    assert.match(refusal(0.3, unknown), /too quick/);
    assert.match(refusal(201, unknown), /too slow/);
  }
  // As long as any club may be: the slow end lies further off.
  assert.ok(bounds(0.5, 0, NaN)[1] > bounds(0.5, 0, 1)[1]);
});

// By hand: the mean of 32.6, 32.8 and 33.2 is 32.8667; squares about it 0.0711 + 0.0044 + 0.1111, over 2, root: 0.3055.
test("three runs have a mean and a spread, and the ± is the hand's unless they are further apart", () => {
  const apart = summary([32.6, 32.8, 33.2]);
  near(apart.mean, 32.8667);
  near(apart.spread, 0.30551);
  near(apart.off, 0.30551);
  const close = summary([32.7, 32.8, 32.75]);
  assert.equal(close.off, 0.2);
  assert.deepEqual(summary([32.7]), { mean: 32.7, spread: null, off: 0.2 });
});

test("a tap that was missed or came twice is noticed", () => {
  const even = Array.from({ length: 21 }, (_, nth) => nth * 1.6382);
  assert.equal(uneven(even), null);
  const missed = even.toSpliced(7, 1).concat(21 * 1.6382);
  assert.equal(uneven(missed), 7);
  const twice = even.toSpliced(3, 0, 2 * 1.6382 + 0.1).slice(0, 21);
  assert.equal(uneven(twice), 3);
});
