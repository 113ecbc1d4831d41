// The guided session by itself, with node's own test runner: no page, no clock. What it must do is the
// trade's common practice (no source) and plain arithmetic by hand.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";

// Read as text: no node needs to be told which kind of script lies under static/.
const source = await readFile(new URL("../../static/js/session.js", import.meta.url), "utf8");
const session = await import(`data:text/javascript,${encodeURIComponent(source)}`);
const { begin, after, slot, nextSlot, shownCount, remaining, cues, entryOf, noteOf, reopen } = session;

const START = Date.UTC(2026, 10, 25, 18, 0, 0);
const interval = {
  planned: { planned: "p", revision: 2 },
  movement: "m",
  hands: "two",
  club: "c",
  sets: 5,
  seconds: 30,
  reps: null,
  goal: 16,
  rest_seconds: 60,
  before: { on: "2026-11-21", left: [14, 14, 15], right: [14, 13, 14] },
};
const ladder = { ...interval, hands: "one", sets: 3, seconds: null, reps: 5, goal: null, before: null };
const settings = { id: "e", day: "2026-11-25", lead_in: 10, pain_stop: 4 };

/** A session and its clock, moved by hand. */
function athlete(plan, more = {}) {
  let now = START;
  let state = begin(plan, { ...settings, ...more }, now);
  const act = (type, event = {}) => (state = after(state, { type, ...event }, now));
  return {
    act,
    wait(seconds) {
      now += seconds * 1000;
      return act("tick");
    },
    /** As a phone that dies and comes back: only what was written is left. */
    revive(seconds, set = (kept) => kept) {
      now += seconds * 1000;
      state = set(JSON.parse(JSON.stringify(state)));
      return act("woke");
    },
    get state() {
      return state;
    },
    get now() {
      return now;
    },
  };
}

test("five sets of both sides: each begins with a tap and a lead-in, the sides alternate", () => {
  const it = athlete(interval);
  const begun = [];
  for (let taps = 1; it.state.phase.name !== "end"; taps += 1) {
    assert.equal(it.state.phase.name, "lead");
    assert.equal(remaining(it.state, it.now), 10_000);
    begun.push(slot(it.state).side);
    it.wait(9.9);
    assert.equal(it.state.phase.name, "lead", "nobody swings before the lead-in is over");
    it.wait(0.1);
    assert.equal(it.state.phase.name, "swing");
    assert.equal(remaining(it.state, it.now), 30_000);
    for (let rep = 0; rep < 14; rep += 1) {
      it.wait(2);
      it.act("rep");
    }
    it.wait(2);
    assert.equal(it.state.phase.name, "count");
    assert.equal(shownCount(it.state), 14);
    it.wait(1000);
    assert.equal(it.state.phase.name, "count", "a heavy club is never started by itself");
    it.act("keep");
    assert.ok(taps <= 10, "ten sides are ten taps");
  }
  const sides = ["left", "right"];
  assert.deepEqual(begun, [...sides, ...sides, ...sides, ...sides, ...sides]);
  const entry = entryOf(it.state);
  assert.equal(entry.sets.length, 10);
  assert.deepEqual(entry.sets[3], {
    movement: "m",
    hands: "two",
    club: "c",
    side: "right",
    seconds: 30,
    reps: 14,
    asked: null,
  });
  assert.deepEqual(entry.planned, { planned: "p", revision: 2 });
  assert.equal(entry.on, "2026-11-25");
  // Ten times 40 s of lead-in and swing and 1000 s of waiting: 173.3 min.
  assert.equal(entry.minutes, 173);
  it.act("say", { field: "warm_up", value: 5 });
  assert.equal(entryOf(it.state).minutes, 178);
});

test("the count begins at the taps, else at last time's count of this side and set", () => {
  const it = athlete(interval);
  it.wait(40);
  assert.equal(shownCount(it.state), 14, "left, set 1, last time");
  it.act("keep");
  it.wait(40);
  assert.equal(shownCount(it.state), 14, "right, set 1, last time");
  it.act("keep");
  it.wait(40);
  it.act("keep");
  it.wait(10);
  for (let rep = 0; rep < 17; rep += 1) it.act("rep");
  it.wait(30);
  assert.equal(shownCount(it.state), 17, "tapped, not 13 as last time");
  it.act("count", { reps: 18 });
  assert.equal(shownCount(it.state), 18);
  it.act("keep");
  it.wait(40);
  it.act("count", { reps: 11 });
  it.act("keep");
  it.wait(40);
  assert.equal(shownCount(it.state), 14, "right, set 3, last time");
  it.act("keep");
  it.wait(40);
  assert.equal(shownCount(it.state), 11, "last time had no set 4: as the set before on this side");
});

test("the rest runs from the end of the second side while the count waits", () => {
  const it = athlete(interval);
  it.wait(40);
  assert.equal(remaining(it.state, it.now), null, "no rest between the hands");
  it.act("keep");
  it.wait(40);
  assert.equal(remaining(it.state, it.now), 60_000);
  it.wait(25);
  it.act("count", { reps: 12 });
  assert.equal(remaining(it.state, it.now), 35_000);
  it.act("ask", { what: "skip" });
  it.wait(500);
  it.act("unask");
  assert.equal(remaining(it.state, it.now), 35_000, "a question stops the rest too");
  it.act("keep");
  assert.equal(it.state.phase.name, "lead", "who is ready sooner need not wait");
});

test("signals: the last three seconds, go, change hands, both sides done, the rest", () => {
  const it = athlete(interval);
  const heard = [];
  const listen = (seconds) => {
    for (let tenth = 0; tenth < seconds * 10; tenth += 1) {
      heard.push(...cues(it.state, it.now, it.now + 100).map(({ name }) => name));
      it.wait(0.1);
    }
  };
  listen(45);
  assert.deepEqual(heard.splice(0), ["tick", "tick", "tick", "go", "tick", "tick", "tick", "change"]);
  it.act("keep");
  listen(110);
  assert.deepEqual(heard.splice(0).slice(-3), ["over", "soon", "rested"]);
  it.act("keep");
  it.act("pause");
  listen(100);
  assert.deepEqual(heard, [], "a pause is silent");
});

test("straight sets: one tap each, corrected before or after, the rest after both sides", () => {
  const it = athlete(ladder);
  assert.equal(slot(it.state).side, "left");
  it.act("done");
  assert.equal(slot(it.state).side, "right");
  assert.equal(remaining(it.state, it.now), null);
  it.act("count", { reps: 4 });
  it.act("done");
  assert.equal(remaining(it.state, it.now), 60_000);
  assert.equal(shownCount(it.state), 5, "the next set asks for the full number again");
  it.act("correct", { index: 0, reps: 6 });
  for (let set = 0; set < 4; set += 1) it.act("done");
  assert.equal(it.state.phase.name, "end");
  const rows = entryOf(it.state).sets.map(({ side, reps, asked, seconds }) => [side, reps, asked, seconds]);
  assert.deepEqual(rows, [
    ["left", 6, 5, null],
    ["right", 4, 5, null],
    ["left", 5, 5, null],
    ["right", 5, 5, null],
    ["left", 5, 5, null],
    ["right", 5, 5, null],
  ]);
});

test("closed in the middle of an interval and opened again: the right time is left, and waits for a tap", () => {
  const it = athlete(interval);
  it.wait(22);
  it.act("rep");
  it.revive(7);
  assert.equal(it.state.phase.name, "swing");
  assert.equal(remaining(it.state, it.now), 11_000);
  assert.equal(it.state.phase.taps, 1);
  it.wait(100);
  assert.equal(remaining(it.state, it.now), 11_000, "a page without sound does not run on by itself");
  it.act("resume");
  assert.equal(it.state.phase.name, "lead");
  it.wait(12);
  assert.equal(it.state.phase.taps, 1);
  it.revive(3600);
  assert.equal(it.state.phase.name, "count");
  assert.equal(it.state.phase.late, true, "it asks, since nobody saw the end");
  assert.equal(shownCount(it.state), 1);
});

test("closed in the lead-in and opened after the interval: the count is asked for", () => {
  const it = athlete(interval);
  it.wait(4);
  it.revive(100);
  assert.equal(it.state.phase.name, "count");
  it.act("undo");
  assert.equal(it.state.phase.name, "ready", "and who did not swing goes back");
  assert.equal(it.state.done.length, 0);
});

test("a clock that was set back while the page was closed makes no countdown longer", () => {
  const it = athlete(interval);
  it.wait(5);
  it.revive(-86_400);
  assert.equal(remaining(it.state, it.now), 10_000);
  it.act("resume");
  it.wait(20);
  it.revive(-86_400);
  assert.equal(it.state.phase.name, "swing");
  assert.equal(remaining(it.state, it.now), 30_000);
});

test("a clock that is moved while the page lives cuts nothing short", () => {
  const it = athlete(interval);
  it.wait(15);
  const jump = 3_600_000;
  const moved = after(it.state, { type: "shift", by: jump }, it.now + jump);
  assert.equal(moved.phase.name, "swing");
  assert.equal(remaining(moved, it.now + jump), 25_000);
  assert.equal(moved.began, START + jump);
});

test("a pause stops the time; a broken interval goes on after a lead-in, and the note says so", () => {
  const it = athlete(interval);
  it.wait(4);
  it.act("pause");
  it.wait(500);
  assert.equal(it.state.phase.name, "lead");
  it.act("resume");
  assert.equal(remaining(it.state, it.now), 10_000, "the whole lead-in again");
  it.wait(22);
  it.act("rep");
  it.act("pause");
  it.act("rep");
  it.wait(60);
  it.act("resume");
  assert.equal(it.state.phase.name, "lead");
  it.wait(10);
  assert.equal(remaining(it.state, it.now), 18_000);
  assert.equal(it.state.phase.taps, 1, "nobody swings in a pause");
  it.wait(18);
  assert.equal(it.state.phase.name, "count");
  assert.equal(noteOf(it.state), "Set 1, left, was interrupted after 12 s.");
});

test("skipping: a whole set, one side, the rest; the reason is in the note", () => {
  const it = athlete(interval);
  it.wait(40);
  it.act("ask", { what: "skip_set" });
  it.act("skip_set", { reason: "my grip is gone" });
  assert.deepEqual(slot(it.state), { set: 2, second: false, side: "right" }, "right is behind");
  assert.equal(it.state.done.length, 1, "the count in the stepper was kept");
  assert.equal(it.state.phase.name, "ready");
  it.act("start");
  it.wait(40);
  it.act("keep");
  assert.equal(slot(it.state).side, "left");
  it.wait(40);
  it.act("skip_set", { reason: "" });
  assert.deepEqual(slot(it.state), { set: 4, second: false, side: "right" });
  it.act("skip_rest", { reason: "Out of time." });
  assert.equal(it.state.phase.name, "end");
  assert.equal(
    entryOf(it.state).note,
    "Set 1 was skipped on the right: my grip is gone.\nSet 3 was skipped.\nEnded before set 4: Out of time.",
  );
  assert.deepEqual(
    it.state.done.map((set) => set.side),
    ["left", "right", "left"],
  );
});

test("an extra set comes after the last, also from the end", () => {
  const it = athlete({ ...ladder, sets: 1 });
  it.act("extra");
  for (let side = 0; side < 4; side += 1) it.act("done");
  assert.equal(it.state.phase.name, "end");
  it.act("extra");
  assert.deepEqual(slot(it.state), { set: 3, second: false, side: "left" });
  it.act("done");
  it.act("done");
  assert.equal(it.state.phase.name, "end");
  assert.equal(it.state.done.length, 6);
});

test("pain at the gym's score stops; what was done is kept, what was not counted is told", () => {
  const it = athlete(interval);
  it.wait(40);
  it.act("keep");
  it.wait(22);
  it.act("rep");
  it.act("rep");
  it.act("ask", { what: "hurt" });
  it.wait(20);
  it.act("hurt", { score: 4, place: " Left elbow " });
  assert.equal(it.state.phase.name, "stopped");
  const entry = entryOf(it.state);
  assert.deepEqual(entry.pain, [{ score: 4, place: "Left elbow" }]);
  assert.deepEqual(
    entry.sets.map(({ side, seconds, reps }) => [side, seconds, reps]),
    [
      ["left", 30, 14],
      ["right", 12, 2],
    ],
  );
  assert.equal(entry.note, "Set 1, right, was broken off after 12 s.");
  const still = it.state;
  for (const type of ["start", "keep", "done", "undo", "extra", "rep", "skip_set", "resume"]) {
    it.act(type, { reason: "" });
    assert.equal(it.state.phase.name, "stopped", `${type} goes on after a stop`);
  }
  assert.deepEqual(entryOf(it.state), entryOf(still));

  const uncounted = athlete(interval);
  uncounted.wait(40);
  uncounted.act("hurt", { score: 10, place: "" });
  assert.deepEqual(entryOf(uncounted.state).sets, [], "a number that nobody said is not kept");
  assert.equal(entryOf(uncounted.state).note, "Set 1, left, was done and not counted.");
});

test("pain below it is recorded, and going on takes the lead-in", () => {
  const it = athlete(interval);
  it.wait(22);
  it.act("ask", { what: "hurt" });
  it.wait(30);
  it.act("hurt", { score: 3, place: "" });
  it.wait(500);
  assert.equal(it.state.phase.name, "swing", "it waits for the athlete's own decision");
  it.act("resume");
  assert.equal(it.state.phase.name, "lead");
  assert.equal(it.state.phase.left, 18_000);
  assert.deepEqual(it.state.pain, [{ score: 3, place: null }]);
});

test("going back from a question starts nothing by itself", () => {
  const it = athlete(interval);
  it.wait(22);
  it.act("ask", { what: "hurt" });
  it.act("unask");
  it.wait(100);
  assert.equal(it.state.asking, null);
  assert.notEqual(it.state.paused, null, "in an interval it waits for a tap");
  it.act("ask", { what: "skip" });
  it.act("unask");
  assert.notEqual(it.state.paused, null);
  it.act("resume");
  it.wait(28);
  assert.equal(it.state.phase.name, "count");
  it.act("ask", { what: "skip" });
  it.act("unask");
  assert.equal(it.state.paused, null, "where nothing swings it goes on");
});

test("pain at the last questions stops too, and no undo takes any pain back", () => {
  const it = athlete({ ...ladder, sets: 1 });
  it.act("done");
  it.act("hurt", { score: 2, place: "knee" });
  it.act("resume");
  it.act("undo");
  assert.deepEqual(it.state.pain, [{ score: 2, place: "knee" }]);
  it.act("redo");
  it.act("done");
  assert.equal(it.state.phase.name, "end");
  it.act("say", { field: "pain_now", value: { score: 4, place: null } });
  for (const type of ["extra", "undo", "redo"]) {
    it.act(type);
    assert.equal(it.state.phase.name, "end", `${type} goes back to work`);
  }
  it.act("say", { field: "pain_now", value: { score: 3, place: null } });
  it.act("extra");
  assert.equal(it.state.phase.name, "do");
});

test("however often it hurt, the worst is told and stops", () => {
  const it = athlete(ladder);
  for (let time = 0; time < 9; time += 1) it.act("hurt", { score: 1 + (time % 3), place: "" });
  it.act("hurt", { score: 9, place: "" });
  assert.equal(it.state.phase.name, "stopped");
  const scores = entryOf(it.state).pain.map(({ score }) => score);
  assert.equal(scores.length, 8);
  assert.equal(Math.max(...scores), 9);
  const asked = athlete(ladder);
  for (let time = 0; time < 8; time += 1) asked.act("hurt", { score: 1 + (time % 3), place: "" });
  asked.act("say", { field: "pain_now", value: { score: 5, place: null } });
  const told = entryOf(asked.state).pain.map(({ score }) => score);
  assert.equal(told.length, 8);
  assert.ok(told.includes(5));
});

test("reps of an interval that is broken off by skipping are kept", () => {
  const skipped = athlete(interval);
  skipped.wait(20);
  for (let rep = 0; rep < 5; rep += 1) skipped.act("rep");
  skipped.act("pause");
  skipped.act("skip_set", { reason: "hot hands" });
  assert.deepEqual(slot(skipped.state), { set: 2, second: false, side: "right" });
  const [row] = entryOf(skipped.state).sets;
  assert.deepEqual([row.side, row.seconds, row.reps], ["left", 10, 5]);
  assert.equal(
    noteOf(skipped.state),
    "Set 1, left, was broken off after 10 s.\nThe rest of set 1 was skipped: hot hands.",
  );
  const over = athlete(interval);
  over.wait(40);
  over.act("keep");
  over.wait(20);
  over.act("rep");
  over.act("skip_rest", { reason: "" });
  assert.deepEqual(
    entryOf(over.state).sets.map(({ side, seconds, reps }) => [side, seconds, reps]),
    [["left", 30, 14], ["right", 10, 1]],
  );
});

test("a count that nobody gave to an interval that nobody saw end is not kept by skipping", () => {
  const it = athlete(interval);
  it.wait(20);
  it.revive(500);
  assert.equal(it.state.phase.late, true);
  it.act("skip_rest", { reason: "" });
  assert.deepEqual(entryOf(it.state).sets, []);
  assert.match(noteOf(it.state), /^Set 1, left, ended while nobody looked, and was not counted\./);
});

test("not yet: before an interval it goes back a step, within one it pauses again", () => {
  const it = athlete(interval);
  it.wait(40);
  it.act("keep");
  it.act("not_yet");
  assert.equal(it.state.phase.name, "count");
  it.act("keep");
  it.wait(22);
  it.act("rep");
  it.act("pause");
  it.act("resume");
  it.act("not_yet");
  assert.notEqual(it.state.paused, null);
  assert.equal(it.state.done.length, 1, "nothing is taken back");
  it.act("resume");
  it.wait(12);
  assert.equal(it.state.phase.taps, 1);
});

test("the note fits into the log, and says once that a set was interrupted", () => {
  const it = athlete(interval);
  for (let time = 0; time < 3; time += 1) {
    it.wait(12);
    it.act("pause");
    it.act("resume");
  }
  assert.equal(noteOf(it.state), "Set 1, left, was interrupted after 2 s.");
  it.act("say", { field: "note", value: "🏋".repeat(1999) });
  it.act("skip_set", { reason: "rain" });
  assert.equal([...entryOf(it.state).note].length, 2000);
  assert.equal(entryOf(it.state).note.isWellFormed?.() ?? true, true);
});

test("a set that was added at the end is not lost by an undo", () => {
  const it = athlete({ ...ladder, sets: 1 });
  it.act("done");
  it.act("done");
  it.act("add", { side: "left" });
  it.act("undo");
  assert.equal(it.state.done.length, 3);
});

test("a lead-in is long enough to take up a club", () => {
  assert.equal(athlete(interval, { lead_in: 0 }).state.lead_in, 3);
  assert.equal(athlete(interval, { lead_in: 20 }).state.lead_in, 20);
});

test("every step can be taken back and done again", () => {
  const it = athlete(ladder);
  const was = [it.state];
  for (let set = 0; set < 3; set += 1) was.push(it.act("done"));
  was.push(it.act("skip_set", { reason: "hot hands" }));
  was.push(it.act("extra"));
  while (it.state.phase.name !== "end") was.push(it.act("done"));
  const told = was.map((state) => JSON.stringify({ ...entryOf(state), minutes: 0 }));
  for (let back = was.length - 2; back >= 0; back -= 1) {
    it.act("undo");
    assert.equal(JSON.stringify({ ...entryOf(it.state), minutes: 0 }), told[back]);
    assert.deepEqual(slot(it.state), slot(was[back]));
  }
  it.act("undo");
  for (let on = 1; on < was.length; on += 1) {
    it.act("redo");
    assert.equal(JSON.stringify({ ...entryOf(it.state), minutes: 0 }), told[on]);
  }
});

test("taking back a swing that began waits for a tap", () => {
  const it = athlete(interval);
  it.wait(40);
  it.act("keep");
  it.wait(15);
  it.act("undo");
  assert.equal(it.state.phase.name, "count");
  assert.equal(it.state.done.length, 0);
  it.act("undo");
  assert.equal(it.state.phase.name, "ready");
});

test("none at the end is no news beside what hurt before", () => {
  const it = athlete(ladder);
  it.act("say", { field: "pain_now", value: { score: 0, place: null } });
  assert.deepEqual(entryOf(it.state).pain, [{ score: 0, place: null }]);
  it.act("hurt", { score: 2, place: "left wrist" });
  assert.deepEqual(entryOf(it.state).pain, [{ score: 2, place: "left wrist" }]);
});

test("a logged session opened again and kept unchanged is what it was, under a new id", () => {
  const it = athlete(ladder);
  it.act("done");
  it.act("hurt", { score: 2, place: "left wrist" });
  it.act("resume");
  it.act("skip_rest", { reason: "rain" });
  it.act("say", { field: "effort", value: 6.5 });
  const logged = entryOf(it.state);
  const opened = reopen(logged, ladder, { id: "n", replaces: "e", pain_stop: 4, lead_in: 10 });
  assert.deepEqual(entryOf(opened), { ...logged, id: "n", replaces: "e", session: "e" });
  const more = after(opened, { type: "add", side: "right" }, START);
  assert.equal(entryOf(more).sets.at(-1).reps, 5);
  assert.equal(entryOf(more).sets.at(-1).movement, "m");
  const less = after(more, { type: "correct", index: 0, reps: null }, START);
  assert.deepEqual(
    entryOf(less).sets.map((set) => set.side),
    ["right"],
  );
});

test("the day is the one on which it began, and a forgotten phone guesses no minutes", () => {
  const it = athlete(ladder);
  it.wait(9 * 3600);
  it.act("skip_rest", { reason: "" });
  assert.equal(entryOf(it.state).on, "2026-11-25");
  assert.equal(entryOf(it.state).minutes, null);
  it.act("say", { field: "day", value: "2026-11-24" });
  assert.equal(entryOf(it.state).on, "2026-11-24");
});

/** mulberry32, public domain: the same cases every time. */
function random(seed) {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

test("whatever an athlete does, sides alternate, nothing is lost, and a dead phone changes nothing", () => {
  const kinds = [
    "tick", "rep", "rep", "rep", "count", "start", "keep", "keep", "done", "done", "pause", "resume",
    "ask", "unask", "skip_set", "skip_rest", "extra", "hurt", "undo", "redo", "correct", "shift",
  ];
  for (let seed = 20261125; seed < 20261125 + 400; seed += 1) {
    const dice = random(seed);
    const pick = (list) => list[Math.floor(dice() * list.length)];
    const plan = pick([interval, ladder]);
    let now = START;
    let state = begin(plan, { ...settings, first: pick(["left", "right"]) }, now);
    for (let step = 0; step < 120; step += 1) {
      now += Math.floor(dice() * dice() * 60_000);
      const type = pick(kinds);
      const event = {
        type,
        reps: Math.floor(dice() * 30),
        index: Math.floor(dice() * 10),
        reason: "rain",
        what: "hurt",
        score: Math.floor(dice() * 4.1),
        place: "",
        by: Math.floor(dice() * 100_000) - 50_000,
      };
      const told = `seed ${seed}, step ${step}, ${type}`;
      const was = state;
      // As it was in memory, and as it was written: both go on alike.
      const written = after(JSON.parse(JSON.stringify(state)), event, now);
      state = after(state, event, now);
      assert.deepEqual(written, JSON.parse(JSON.stringify(state)), told);
      if (type === "shift") now += event.by;
      const sides = state.done.map((set) => set.side);
      sides.forEach((side, at) => {
        if (at > 0) assert.notEqual(side, sides[at - 1], `${told}: ${sides}`);
      });
      if (type !== "undo") {
        assert.ok(state.done.length >= was.done.length, `${told}: a set was lost`);
      }
      if (was.phase.name === "swing" && type === "rep" && state.phase.name === "swing") {
        const heard = was.paused === null ? 1 : 0;
        assert.equal(state.phase.taps, was.phase.taps + heard, `${told}: a tap was lost`);
      }
      if (state.phase.name === "swing" && !["swing", "lead"].includes(was.phase.name)) {
        assert.fail(`${told}: a club was started by itself`);
      }
      const left = remaining(state, now);
      assert.ok(left === null || left >= 0, told);
      if (nextSlot(state) === null) assert.ok(state.passed + 1 >= 2 * state.sets, told);
      assert.ok(state.passed <= 2 * state.sets, told);
      assert.equal(entryOf(state).sets.length, state.done.length);
    }
  }
});
