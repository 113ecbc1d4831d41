// The guided session as a pure state machine: no page, no clock, no storage. A state is plain data
// that survives being written and read back at any moment; times are milliseconds since the epoch
// and are always handed in.
//
// A session is a row of slots, two a set: each slot is one side's work. A slot is passed when it was
// done or skipped. The side of the next slot is always the other one than the last side that swung,
// so sides alternate strictly, also after a side was skipped.
//
// Phases: `ready` (waits for a tap), `lead` (counting down to the swing), `swing` (the interval
// runs), `count` (how many were they? and, after both sides, the rest), `do` (a straight set, one tap
// when it is done), `end` (the last questions), `stopped` (pain: nothing more today).

/** Most reps that one set may have; as the log. */
export const MOST_REPS = 1000;
/** Most sets a side, an extra one included: 400 rows fit into one log. */
export const MOST_SETS = 200;
/** Most places that may hurt in one session; as the log. */
export const MOST_PAIN = 8;
/** Characters of a note; as the log. */
const LONGEST_NOTE = 2000;
/** Seconds in which somebody can take up a club. */
const SHORTEST_LEAD_IN = 3;
/** Longer than this by the clock is more likely a forgotten phone than training. */
const LONGEST_TRUSTED_MINUTES = 240;
/** Steps that can be taken back. */
const MOST_UNDO = 60;
/** A swing whose end was noticed later than this ended while the page was away. */
const LATE = 3000;

/** The other side. */
export const other = (side) => (side === "left" ? "right" : "left");

/**
 * A session begins: its first set's lead-in runs, or its first straight set is asked for.
 * `plan`: what is asked, as carried. `settings`: `id` of the entry to be, `day` in the gym's zone,
 * `lead_in` in seconds, `pain_stop`, `first` side.
 */
export function begin(plan, settings, now) {
  const state = {
    format: 1,
    id: settings.id,
    plan,
    day: settings.day,
    lead_in: Math.max(SHORTEST_LEAD_IN, settings.lead_in),
    pain_stop: settings.pain_stop,
    first: settings.first ?? "left",
    began: now,
    sets: plan.sets,
    passed: 0,
    done: [],
    phase: null,
    paused: null,
    asking: null,
    was_paused: false,
    noted: false,
    waits: false,
    day_chosen: false,
    remarks: [],
    note: null,
    effort: null,
    pain: [],
    pain_now: null,
    trained: null,
    warm_up: 0,
    replaces: null,
    session: settings.id,
    past: [],
    undone: [],
  };
  const waits = { ...state, phase: waiting(state, null) };
  return isTimed(waits) ? started(waits, now) : waits;
}

/**
 * A session that was logged, opened again at its last questions. `settings`: `id` of the entry that
 * the change will be, `replaces` the newest one, and `pain_stop`; `plan`: names for its first set.
 */
export function reopen(content, plan, settings) {
  const { sets, on, effort, pain, minutes, note, session } = content;
  const numbers = { left: 0, right: 0 };
  const done = sets.map((set) => ({ ...set, set: (numbers[set.side] += 1) }));
  return {
    ...begin({ ...plan, planned: content.planned, before: null }, { ...settings, day: on }, 0),
    done,
    passed: done.length,
    effort,
    pain,
    trained: minutes,
    note,
    replaces: settings.replaces,
    session,
    past: [],
    phase: { name: "end" },
  };
}

/** What follows a state after an event at an instant. Events that do not fit change nothing. */
export function after(state, event, now) {
  // About the clock itself: nothing has fallen due by that.
  if (event.type === "shift") return shifted(state, event.by);
  if (event.type === "woke") return woken(state, now);
  // Whatever fell due before the event happened first.
  const current = elapsed(state, now);
  switch (event.type) {
    case "tick":
      return current;
    case "rep":
      return counted(current);
    case "count":
      return recounted(current, event.reps);
    case "start":
      return started(current, now);
    case "keep":
      return kept(current, now);
    case "done":
      return setDone(current, now);
    case "correct":
      return corrected(current, event.index, event.reps);
    case "add":
      return added(current, event.side);
    case "pause":
      return paused(current, now);
    case "resume":
      return resumed(current, now);
    case "ask":
      return asked(current, event.what, now);
    case "unask":
      return unasked(current, now);
    case "not_yet":
      return notYet(current, now);
    case "skip_set":
      return setSkipped(current, event.reason, now);
    case "skip_rest":
      return restSkipped(current, event.reason, now);
    case "extra":
      return extraSet(current);
    case "hurt":
      return hurt(current, event.score, event.place, now);
    case "say":
      return { ...current, [event.field]: event.value };
    case "undo":
      return undone(current);
    case "redo":
      return redone(current);
    default:
      throw new Error(`no such event: ${event.type}`);
  }
}

// Where the session stands.

const isOver = (state) => state.phase.name === "end" || state.phase.name === "stopped";
const isSwinging = ({ phase }) => phase.name === "lead" || phase.name === "swing";
/** Some of the interval was swung already before this lead-in. */
const isInterrupted = ({ phase, plan }) => phase.taps > 0 || phase.left < plan.seconds * 1000;
const isTimed = (state) => state.plan.seconds !== null;
// After the last side there is no rest to run down.
const countsDown = ({ phase, passed, sets }) =>
  Number.isFinite(phase.ends) && !(phase.name === "count" && passed + 1 >= 2 * sets);
const lastSide = (state) => state.done.at(-1)?.side ?? null;

/** The slot that is on, or next: which set, which side, and whether it is the set's second side. */
export function slot(state) {
  const last = lastSide(state);
  return {
    set: Math.floor(state.passed / 2) + 1,
    second: state.passed % 2 === 1,
    side: last === null ? state.first : other(last),
  };
}

/** The slot after the one that is on; null after the last. */
export function nextSlot(state) {
  if (state.passed + 1 >= 2 * state.sets) return null;
  const passed = state.passed + 1;
  return { set: Math.floor(passed / 2) + 1, second: passed % 2 === 1, side: other(slot(state).side) };
}

/** The count of the same set and side last time; null where there was none. */
export function before(state, { set, side }) {
  return state.plan.before?.[side]?.[set - 1] ?? null;
}

/** The count that the stepper shows: as set by hand, else as tapped, else as last time. */
export function shownCount(state) {
  const { phase } = state;
  if (phase.name === "do") return phase.reps;
  if (phase.reps !== null) return phase.reps;
  if (phase.taps > 0) return phase.taps;
  const here = slot(state);
  const sameSide = state.done.filter((set) => set.side === here.side).at(-1);
  return before(state, here) ?? sameSide?.reps ?? state.plan.goal ?? 0;
}

/** Milliseconds left of what counts down; null where nothing does. */
export function remaining(state, now) {
  if (!countsDown(state)) return null;
  return Math.max(0, state.phase.ends - (state.paused ?? now));
}

/**
 * Signals that fall due after `from` and not after `to`, soonest first: `tick` in the last three
 * seconds of a lead-in or an interval, `go`, `change` (hands), `over` (both sides done), `soon` (ten
 * seconds of rest left), `rested`.
 */
export function cues(state, from, to) {
  if (state.paused !== null || !countsDown(state)) return [];
  const { phase } = state;
  const { ends } = phase;
  const due = (at, name) => ({ at, name });
  const lastSeconds = [3, 2, 1].map((second) => due(ends - 1000 * second, "tick"));
  let list = [];
  if (phase.name === "lead") {
    list = [...lastSeconds, due(ends, "go")];
    if (phase.left > 0) {
      const over = ends + phase.left;
      list.push(due(over, slot(state).second ? "over" : "change"));
    }
  } else if (phase.name === "swing") {
    list = [...lastSeconds, due(ends, slot(state).second ? "over" : "change")];
  } else {
    list = [due(ends - 10_000, "soon"), due(ends, "rested")];
  }
  return list.filter(({ at }) => at > from && at <= to);
}

/** What the session is as an entry of the log: as far as it was done and said. */
export function entryOf(state) {
  const { plan } = state;
  return {
    format: 1,
    id: state.id,
    replaces: state.replaces,
    session: state.session,
    on: state.day,
    planned: plan.planned,
    sets: state.done.map(({ movement, hands, club, side, seconds, reps, asked }) => ({
      movement: movement ?? plan.movement,
      hands: hands ?? plan.hands,
      club: club ?? plan.club,
      side,
      seconds,
      reps,
      asked,
    })),
    effort: state.effort,
    pain: painOf(state),
    minutes: minutesOf(state),
    note: noteOf(state),
    taken_back: false,
  };
}

/** Minutes of the whole session, warming up included; null where nobody said. */
export function minutesOf(state) {
  if (state.trained === null) return null;
  return Math.min(600, Math.max(1, state.trained + state.warm_up));
}

/** The note: as typed, or what happened in words; as much of it as the log takes. */
export function noteOf(state) {
  const note = state.note ?? state.remarks.join("\n");
  return note.length > LONGEST_NOTE ? [...note].slice(0, LONGEST_NOTE).join("") : note;
}

/** All the pain that was told; none at the end is no news beside what hurt before. */
export function painOf({ pain, pain_now }) {
  if (pain_now === null || (pain_now.score === 0 && pain.length > 0)) return pain;
  return withPain(pain, pain_now);
}

/** One report more. Where the log takes no more of them, the mildest gives way. */
function withPain(pain, told) {
  const all = [...pain, told];
  if (all.length <= MOST_PAIN) return all;
  const mildest = Math.min(...all.map(({ score }) => score));
  return all.toSpliced(all.findIndex(({ score }) => score === mildest), 1);
}

/** Whether something reported is painful enough to stop. */
export const mustStop = (state) =>
  painOf(state).some(({ score }) => score >= state.pain_stop);

/** Whether no more may be swung in this session: it hurts too much, or an earlier pain waits for the coach. */
export const mayNotGoOn = (state) =>
  state.phase.name === "stopped" || state.waits || mustStop(state);

/** An earlier pain waits for the coach: a session under way ends with what was done. */
export function halt(state, now) {
  if (isOver(state)) return { ...state, waits: true };
  return { ...ended(settled(state, now), now), waits: true };
}

// Time passes.

function leadIn(state, now, left = state.plan.seconds * 1000, taps = 0) {
  const length = state.lead_in * 1000;
  return { name: "lead", ends: now + length, length, left, taps };
}

function straightSet(state, rest) {
  return { name: "do", reps: state.plan.reps, ends: rest, length: restLength(state) };
}

const restLength = (state) => state.plan.rest_seconds * 1000;

function elapsed(state, now) {
  let current = state;
  if (current.paused !== null) return current;
  if (current.phase.name === "lead" && now >= current.phase.ends) {
    const { ends, left, taps } = current.phase;
    current = { ...current, phase: { name: "swing", ends: ends + left, length: left, taps } };
  }
  if (current.phase.name === "swing" && now >= current.phase.ends) {
    const { ends, taps } = current.phase;
    current = {
      ...current,
      phase: {
        name: "count",
        taps,
        reps: null,
        ends: slot(current).second ? ends + restLength(current) : null,
        length: restLength(current),
        late: now - ends > LATE,
      },
    };
  }
  return current;
}

function paused(state, now) {
  if (state.paused !== null || isOver(state)) return state;
  return { ...state, paused: now };
}

/** A question stands before everything else, and time stops for it. */
function asked(state, what, now) {
  if (isOver(state) || state.asking !== null) return state;
  return { ...paused(state, now), asking: what, was_paused: state.paused !== null };
}

/** Back from a question. Where a club would swing, it waits for a tap of its own. */
function unasked(state, now) {
  if (state.asking === null) return state;
  const stays = state.was_paused || isSwinging(state);
  return stays ? { ...state, asking: null } : resumed(state, now);
}

/** Not yet: before an interval a step back; within one that was interrupted, a pause again. */
function notYet(state, now) {
  if (state.phase.name !== "lead") return state;
  return isInterrupted(state) ? paused(state, now) : undone(state);
}

function resumed(state, now) {
  const open = { ...state, asking: null, paused: null, noted: false };
  if (state.paused === null) return open;
  const { phase } = state;
  if (phase.name === "lead") return { ...open, phase: leadIn(state, now, phase.left, phase.taps) };
  if (phase.name === "swing") {
    // Nobody picks up a heavy club without a lead-in: what is left of the interval follows it.
    const left = phase.ends - state.paused;
    const swung = Math.round((state.plan.seconds * 1000 - left) / 1000);
    const words = `${naming(slot(state))} was interrupted after`;
    const next = { ...open, phase: leadIn(state, now, left, phase.taps) };
    return noteOf(state).includes(words) ? next : remarked(next, `${words} ${swung} s.`);
  }
  if (!Number.isFinite(phase.ends)) return open;
  return { ...open, phase: { ...phase, ends: phase.ends + (now - state.paused) } };
}

/** The phone's clock was moved while the page lived: every instant moves with it. */
function shifted(state, by) {
  const moved = (instant) => (instant === null || instant === undefined ? instant : instant + by);
  const inTime = (phase) => ("ends" in phase ? { ...phase, ends: moved(phase.ends) } : phase);
  const list = (snapshots) => snapshots.map((old) => ({ ...old, phase: inTime(old.phase) }));
  return {
    ...state,
    began: moved(state.began),
    paused: moved(state.paused),
    phase: inTime(state.phase),
    past: list(state.past),
    undone: list(state.undone),
  };
}

/**
 * The page is back after it was closed. A clock that was set back meanwhile must not make a countdown
 * longer than it ever was. A lead-in or an interval that still runs waits for a tap: until there was one,
 * a page makes no sound.
 */
function woken(state, now) {
  if (state.paused !== null) return state;
  const { phase } = state;
  const long = Number.isFinite(phase.ends) && phase.ends - now > phase.length;
  const current = elapsed(
    long ? { ...state, phase: { ...phase, ends: now + phase.length } } : state,
    now,
  );
  return isSwinging(current) ? paused(current, now) : current;
}

// What the athlete does.

function counted(state) {
  const { phase } = state;
  if (phase.name !== "swing" || state.paused !== null || phase.taps >= MOST_REPS) return state;
  return { ...state, phase: { ...phase, taps: phase.taps + 1 } };
}

const within = (reps) => Math.min(MOST_REPS, Math.max(0, Math.round(reps)));

function recounted(state, reps) {
  const { phase } = state;
  if ((phase.name !== "count" && phase.name !== "do") || !Number.isFinite(reps)) return state;
  return { ...state, phase: { ...phase, reps: within(reps) } };
}

function started(state, now) {
  if (state.phase.name !== "ready" || state.paused !== null) return state;
  const next = remembered(state);
  return { ...next, phase: leadIn(next, now) };
}

/** The count is kept; the other side's or the next set's lead-in begins, or the session ends. */
function kept(state, now) {
  if (state.phase.name !== "count" || state.paused !== null) return state;
  const next = passedOn(remembered(state), shownCount(state));
  if (next.passed >= 2 * next.sets) return ended(next, now);
  return { ...next, phase: leadIn(next, now) };
}

/** A straight set is done. After both sides the rest runs while the next one is already asked for. */
function setDone(state, now) {
  if (state.phase.name !== "do" || state.paused !== null) return state;
  const { second } = slot(state);
  const next = passedOn(remembered(state), state.phase.reps);
  if (next.passed >= 2 * next.sets) return ended(next, now);
  return { ...next, phase: straightSet(next, second ? now + restLength(next) : null) };
}

/** The slot that is on is done with so many reps. */
function passedOn(state, reps, seconds = state.plan.seconds) {
  const { set, side } = slot(state);
  const row = { set, side, seconds, reps, asked: isTimed(state) ? null : state.plan.reps };
  return { ...state, done: [...state.done, row], passed: state.passed + 1 };
}

/** Another count for a set that was done already; null takes the set away. */
function corrected(state, index, reps) {
  if (!(index in state.done)) return state;
  if (reps === null) {
    // Steps count on the rows that there were: without one of them none can be gone back to.
    return { ...state, done: state.done.toSpliced(index, 1), past: [], undone: [] };
  }
  return { ...state, done: state.done.with(index, { ...state.done[index], reps: within(reps) }) };
}

/** At the end: a set that was done and not counted along. */
function added(state, side) {
  if (!isOver(state) || state.done.length >= 2 * MOST_SETS) return state;
  const same = state.done.filter((set) => set.side === side);
  const { seconds, reps, goal } = state.plan;
  const like = { seconds, asked: isTimed(state) ? null : reps, reps: reps ?? goal ?? 0 };
  const row = { ...like, ...(same.at(-1) ?? state.done.at(-1)), set: same.length + 1, side };
  // Steps know nothing of it: none can be gone back to.
  return { ...state, done: [...state.done, row], past: [], undone: [] };
}

const naming = ({ set, side }) => `Set ${set}, ${side},`;

function remarked(state, words) {
  if (state.note === null) return { ...state, remarks: [...state.remarks, words] };
  return { ...state, note: state.note === "" ? words : `${state.note}\n${words}` };
}

const because = (reason) => {
  const words = reason.trim().replace(/[.\s]+$/u, "");
  return words === "" ? "." : `: ${words}.`;
};

/** What was begun is settled before what comes next is skipped: a count in the stepper is kept. */
function settled(state, now) {
  const open = { ...state, asking: null, paused: null, noted: false };
  if (state.phase.name !== "count") return brokenOff(open, state, now);
  if (!isUnseen(state)) return passedOn(open, shownCount(state));
  const told = `${naming(slot(state))} ended while nobody looked, and was not counted.`;
  return { ...remarked(open, told), passed: state.passed + 1 };
}

/** The interval ended while the page was away, and nobody has said a count. */
export const isUnseen = ({ phase }) => phase.late && phase.reps === null && phase.taps === 0;

/** The next set is skipped: all of it, or its second side where the first was done. */
function setSkipped(state, reason, now) {
  if (isOver(state)) return state;
  const open = settled(remembered(state), now);
  if (open.passed >= 2 * open.sets) return ended(open, now);
  const from = state.phase.name === "count" ? open : state;
  const { set, second, side } = slot(from);
  const broken = open.done.length > from.done.length;
  const which = second ? `Set ${set} was skipped on the ${side}` : `Set ${set} was skipped`;
  const next = remarked(
    { ...open, passed: from.passed + (second ? 1 : 2) },
    `${broken ? `The rest of set ${set} was skipped` : which}${because(reason)}`,
  );
  if (next.passed >= 2 * next.sets) return ended(next, now);
  const rest = state.phase.name === "count" || state.phase.name === "do" ? state.phase.ends : null;
  return { ...next, phase: waiting(next, rest) };
}

function waiting(state, rest) {
  if (!isTimed(state)) return straightSet(state, rest);
  return { name: "ready", ends: rest, length: restLength(state) };
}

function restSkipped(state, reason, now) {
  if (isOver(state)) return state;
  const open = settled(remembered(state), now);
  if (open.passed >= 2 * open.sets) return ended(open, now);
  const { set, second, side } = slot(open);
  const from = second ? `set ${set}, ${side}` : `set ${set}`;
  return ended(remarked(open, `Ended before ${from}${because(reason)}`), now);
}

function ended(state, now) {
  const minutes = Math.max(1, Math.round((now - state.began) / 60_000));
  const trained = minutes <= LONGEST_TRUSTED_MINUTES ? minutes : null;
  return { ...state, trained, phase: { name: "end" } };
}

/** One more set on both sides. */
function extraSet(state) {
  if (mayNotGoOn(state) || state.sets >= MOST_SETS) return state;
  const more = { ...remembered(state), sets: state.sets + 1 };
  if (state.phase.name === "end") {
    // What was left out stays left out: the extra set comes after it.
    return { ...more, sets: Math.floor(more.passed / 2) + 1, phase: waiting(more, null) };
  }
  return more;
}

/** Something hurts: recorded, and from the gym's score on the session stops. */
function hurt(state, score, place, now) {
  if (state.phase.name === "stopped") return state;
  const told = { score, place: place.trim() === "" ? null : place.trim() };
  const reported = { ...state, pain: withPain(state.pain, told) };
  if (state.phase.name === "end") return reported;
  // Below it the session waits for a tap: going on is the athlete's own decision.
  if (score < state.pain_stop) return { ...paused(reported, now), asking: null, noted: true };
  const stopped = ended(brokenOff({ ...reported, asking: null, paused: null }, state, now), now);
  return { ...stopped, phase: { name: "stopped" } };
}

/** What of the slot that was on is to be told, when it is broken off. */
function brokenOff(state, was, now) {
  const { phase } = was;
  if (phase.name === "count") {
    if (phase.reps !== null || phase.taps > 0) return passedOn(state, shownCount(was));
    return remarked(state, `${naming(slot(state))} was done and not counted.`);
  }
  const begun = phase.name === "swing" || (phase.name === "lead" && isInterrupted(was));
  if (!begun) return state;
  const left = phase.name === "swing" ? phase.ends - (was.paused ?? now) : phase.left;
  const swung = Math.max(1, Math.round(state.plan.seconds - left / 1000));
  const told = remarked(state, `${naming(slot(state))} was broken off after ${swung} s.`);
  return phase.taps > 0 ? passedOn(told, phase.taps, swung) : told;
}

// Taking back.

/**
 * A step as it can be gone back to: a countdown that was cut short waits for a tap instead. Pain is not
 * of it: what hurt is not undone.
 */
function snapshot(state) {
  const { passed, sets, done, phase, remarks } = state;
  const back = isSwinging(state) ? waiting(state, null) : phase;
  return { passed, sets, done: done.length, remarks, phase: back };
}

function remembered(state) {
  return { ...state, past: [...state.past, snapshot(state)].slice(-MOST_UNDO), undone: [] };
}

function undone(state) {
  const last = state.past.at(-1);
  if (last === undefined || mayNotGoOn(state)) return state;
  const { done, ...rest } = last;
  // What was counted after that step is kept aside, so that it can be done again.
  const aside = { ...snapshot(state), rows: state.done.slice(done) };
  return {
    ...state,
    ...rest,
    done: state.done.slice(0, done),
    paused: null,
    asking: null,
    noted: false,
    past: state.past.slice(0, -1),
    undone: [...state.undone, aside],
  };
}

function redone(state) {
  const next = state.undone.at(-1);
  if (next === undefined || mayNotGoOn(state)) return state;
  const { done: _, rows, ...rest } = next;
  return {
    ...state,
    ...rest,
    done: [...state.done, ...rows],
    paused: null,
    asking: null,
    noted: false,
    past: [...state.past, snapshot(state)],
    undone: state.undone.slice(0, -1),
  };
}
