// The page of the guided session: fetches what is asked from what the phone carries, hands taps and
// time to the session, keeps its state on the phone at every change, and shows it.

import * as session from "./session.js";
import { Signals } from "./signals.js";
import { Stages, chooseMark, makeChips, makeScale, show } from "./stages.js";
import { SteadyClock, Writer, hold } from "./underway.js";
import { dayWords } from "./words.js";

/** A second tap sooner than this after a button took the first one is the same tap. */
const BOUNCE = 400;
/** Signals that fell due longer ago than this, while the page slept, are not given; the end of work is. */
const STALE = 1500;
/** How long until it is tried again to keep what the phone refused to keep. */
const AGAIN = 5000;
/** Stages in which something is under way: each has the row of tools. */
const WORK = ["ready", "lead", "swing", "count", "do", "paused"];

const root = document.querySelector("#train");
const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`)?.content;
const capital = (word) => word.charAt(0).toUpperCase() + word.slice(1);

class Training {
  #phone;
  #book;
  #clock;
  #signals;
  #settings;
  #stages = new Stages(root);
  /** Names the session among what the phone holds; null while something logged is changed. */
  #key = null;
  /** What is asked, before it begins. */
  #plan = null;
  #state = null;
  #writer = null;
  #letGo = null;
  #heardUntil = 0;
  #tookAt = 0;
  /** Problems at the last questions, by the name of their condition. */
  #problems = {};
  /** The entry that the phone would not keep yet. */
  #unkept = null;
  /** The entry that was kept: {id, session, stopped, back, ...}. */
  #kept = null;

  async open() {
    root.hidden = false;
    this.#stages.draw("opening", {});
    this.#phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
    this.#listen();
    await this.#begin();
  }

  async #begin() {
    this.#book = (await this.#phone.carried()) ?? (await this.#phone.carry().catch(() => null));
    if (!this.#book) return this.#stages.draw("no-book", {});
    this.#settings = await this.#phone.settings();
    this.#signals = new Signals(this.#settings);
    root.classList.toggle("plain-colour", !this.#settings.colour);
    root.classList.toggle("few-words", !this.#settings.words);
    this.#clock = new SteadyClock(this.#phone);
    this.#furnish();
    const asked = new URLSearchParams(location.search);
    if (asked.has("entry")) return this.#change(asked.get("entry"));
    if (asked.has("free")) return this.#take("free");
    const today = this.#phone.today();
    const due = ({ on, logged }) => on === today && !logged;
    const planned = asked.get("planned") ?? this.#book.planned.find(due)?.planned;
    return this.#take(planned ?? "free");
  }

  // Whose session it is: this window's, or another's.

  async #take(key, { take = false } = {}) {
    this.#key = key;
    const name = `leverbook-train-${this.#phone.account}-${this.#phone.gym}-${key}`;
    this.#letGo = await hold(name, { take, lost: () => this.#lose() });
    if (this.#letGo === null) return this.#stages.draw("elsewhere", {});
    this.#writer = new Writer(this.#phone, key, (kept) => {
      root.querySelector("#unkept").hidden = kept;
    });
    const state = await this.#phone.underway.read(key);
    if (state) return this.#resume(state);
    return key === "free" ? this.#choose() : this.#ask(key);
  }

  #lose() {
    if (!this.#letGo) return;
    this.#letGo = null;
    this.#state = null;
    void this.#writer?.close();
    this.#signals.rest();
    this.#stages.draw("taken-over", {});
  }

  async #resume(kept) {
    this.#plan = kept.plan;
    const waits = await this.#phone.waits(kept.plan.movement);
    const now = this.#clock.now();
    const state = session.after(kept, { type: "woke" }, now);
    this.#state = waits && state.phase.name !== "stopped" ? session.halt(state, now) : state;
    this.#heardUntil = now;
    this.#changed();
    if (this.#state && !waits) void this.#signals.stayAwake();
  }

  // Before it begins.

  async #ask(key) {
    const planned = await this.#carried((book) => book.planned.find((one) => one.planned === key));
    if (!planned) return this.#stages.draw("unknown", {});
    const mine = (await this.#phone.entries()).find(
      ({ content, state }) => content.planned?.planned === key && state !== "set_aside",
    );
    const takenBack = mine?.content.taken_back ? mine.content.session : null;
    const said = planned.logged === takenBack ? null : planned.logged;
    const logged = mine && takenBack === null ? mine.content.session : said;
    if (logged) {
      const change = this.#changing(logged);
      return this.#stages.draw("logged", { ...this.#named(planned), day: dayWords(planned.on), change });
    }
    if (planned.waits || (await this.#phone.waits(planned.movement))) {
      return this.#stages.draw("waits", {});
    }
    this.#plan = { ...planned, planned: { planned: planned.planned, revision: planned.revision } };
    this.#drawBefore(planned.on);
  }

  /** Something in the book, or, where it is not in it yet, in the one of this moment. */
  async #carried(find) {
    const found = find(this.#book);
    if (found) return found;
    this.#book = (await this.#phone.carry().catch(() => null)) ?? this.#book;
    return find(this.#book);
  }

  #named({ movement_name, club_name, hands_words }) {
    return { movement: movement_name, club: club_name, hands: hands_words };
  }

  #drawBefore(on) {
    const plan = this.#plan;
    const { before } = plan;
    const counts = before ? [...before.left, ...before.right] : [];
    // What to mind is to be read before the button is reached.
    root.classList.toggle("reads-first", plan.first_with_club);
    const values = {
      ...this.#named(plan),
      day: dayWords(on),
      line: capital(plan.line),
      goal: plan.goal,
      last: counts.length > 0 && `${span(counts)} a set, ${shortDay(before.on)}`,
      rest: spell(plan.rest_seconds),
      note: plan.note,
      new_club: plan.first_with_club,
      known_club: !plan.first_with_club,
      loadable: plan.loadable,
      timed: plan.seconds !== null,
      lead_in: this.#settings.lead_in,
    };
    this.#stages.draw("before", values, { alone: true });
  }

  /** The work is chosen on the phone: begins with what was logged last. */
  #choose() {
    const form = root.querySelector("[data-form='free']");
    const { movements, clubs, hands } = this.#book;
    const fill = (select, choices) =>
      select.replaceChildren(...choices.map(([value, word]) => new Option(word, value)));
    fill(form.movement, movements.map(({ id, name }) => [id, name]));
    fill(form.club, clubs.map(({ id, name }) => [id, name]));
    fill(form.hands, hands.map(({ word, words }) => [word, words]));
    const sets = this.#book.logged.find(({ entry }) => entry?.sets.length > 0)?.entry.sets ?? [];
    const [last] = sets;
    if (last) {
      for (const name of ["movement", "hands", "club"]) {
        if ([...form[name].options].some(({ value }) => value === last[name])) form[name].value = last[name];
      }
      form.counted.value = last.seconds === null ? "reps" : "time";
    }
    form.sets.value = Math.ceil(sets.length / 2) || 5;
    form.seconds.value = last?.seconds ?? 30;
    form.reps.value = last?.asked ?? 5;
    form.rest.value = 60;
    this.#drawFree({});
  }

  #drawFree(values) {
    const timed = root.querySelector("[data-form='free']").counted.value === "time";
    this.#stages.draw("free", { by_time: timed, by_reps: !timed, ...values });
  }

  async #chosen() {
    const form = root.querySelector("[data-form='free']");
    const timed = form.counted.value === "time";
    const sets = whole(form.sets.value, 1, 50);
    const seconds = timed ? whole(form.seconds.value, 1, 3600) : null;
    const reps = timed ? null : whole(form.reps.value, 1, session.MOST_REPS);
    const rest_seconds = whole(form.rest.value, 0, 3600);
    if (sets === undefined || seconds === undefined || reps === undefined || rest_seconds === undefined) {
      return this.#drawFree({ free_wrong: true });
    }
    if (await this.#phone.waits(form.movement.value)) return this.#stages.draw("waits", {});
    const club = this.#book.clubs.find(({ id }) => id === form.club.value);
    const swung = { movement: form.movement.value, hands: form.hands.value, club: form.club.value };
    const known = this.#book.logged.some(({ entry }) => entry?.sets.some((set) => set.club === swung.club));
    this.#plan = {
      ...swung,
      planned: null,
      movement_name: form.movement.selectedOptions[0].text,
      hands_words: form.hands.selectedOptions[0].text,
      club_name: club.name,
      loadable: club.loadable,
      first_with_club: !known,
      sets,
      seconds,
      reps,
      goal: null,
      rest_seconds,
      line: `${sets} ${sets === 1 ? "set" : "sets"} of ${timed ? `${seconds} s` : reps} a side`,
      note: null,
      before: this.#lastTime(swung, seconds),
    };
    this.#drawBefore(this.#phone.today());
  }

  /** The counts of the newest logged session with the same work, as far as the phone knows. */
  #lastTime({ movement, hands, club }, seconds) {
    const like = (set) =>
      set.movement === movement && set.hands === hands && set.club === club && set.seconds === seconds;
    const found = this.#book.logged
      .filter(({ entry }) => entry?.sets.some(like))
      .sort((one, two) => (one.on < two.on ? 1 : -1))[0];
    if (!found) return null;
    const of = (side) =>
      found.entry.sets.filter((set) => like(set) && set.side === side).map(({ reps }) => reps);
    return { on: found.on, left: of("left"), right: of("right") };
  }

  async #start() {
    // Pain may have been told elsewhere while this page stood open.
    if (await this.#phone.waits(this.#plan.movement)) return this.#stages.draw("waits", {});
    // A second tap may have come while that was looked up.
    if (this.#state) return;
    const now = this.#clock.now();
    this.#state = session.begin(
      this.#plan,
      {
        id: this.#phone.newId(),
        day: this.#phone.today(),
        lead_in: this.#settings.lead_in,
        pain_stop: this.#book.pain_stop,
        first: root.querySelector("input[name='first']:checked").value,
      },
      now,
    );
    this.#heardUntil = now;
    void this.#signals.stayAwake();
    this.#changed();
  }

  // While it runs.

  #does(type, more = {}) {
    if (!this.#state) return;
    const was = this.#state;
    this.#state = session.after(was, { type, ...more }, this.#clock.now());
    if (this.#state !== was) this.#changed(was);
  }

  /** The state changed: written first, then shown. */
  #changed(was = null) {
    const state = this.#state;
    if (this.#key !== null) this.#writer.put(state);
    if (state.phase.name === "stopped") return void this.#keep();
    this.#draw();
    if (!was || stageOf(was) !== stageOf(state) || was.passed !== state.passed) this.#announce();
  }

  #announce() {
    const values = this.#values();
    const stage = stageOf(this.#state);
    if (stage === "count") {
      this.#stages.say(values.change ? "change" : values.last_one ? "last" : "rest", values);
    } else if (stage === "paused" && this.#state.noted) {
      this.#stages.say("hurt-noted", values);
    } else if (["lead", "swing", "do"].includes(stage)) {
      this.#stages.say(stage, values);
    }
  }

  #tick() {
    if (!this.#state) return;
    const by = this.#clock.check();
    if (by !== 0) {
      this.#state = session.after(this.#state, { type: "shift", by }, this.#clock.now());
      this.#heardUntil += by;
      this.#changed(this.#state);
    }
    const now = this.#clock.now();
    for (const { at, name } of session.cues(this.#state, this.#heardUntil, now)) {
      if (now - at < STALE || name === "change" || name === "over") this.#signal(name);
    }
    this.#heardUntil = now;
    this.#does("tick");
    if (this.#state && WORK.includes(stageOf(this.#state))) this.#draw();
  }

  #signal(name) {
    this.#signals.give(name);
    if (name === "rested") this.#stages.say("rested", {});
  }

  #draw() {
    const stage = stageOf(this.#state);
    const tools = WORK.includes(stage);
    const { side } = session.slot(this.#state);
    root.dataset.side = side;
    root.dataset.next = session.nextSlot(this.#state)?.side ?? side;
    const left = session.remaining(this.#state, this.#clock.now());
    const rests = ["count", "do", "ready"].includes(this.#state.phase.name) && left > 0;
    root.dataset.rest = rests ? "on" : "off";
    if (stage === "end") return this.#drawEnd();
    this.#stages.draw(stage, this.#values(), { tools, alone: true });
  }

  #values() {
    const state = this.#state;
    const { plan, phase, done, sets } = state;
    const stage = stageOf(state);
    const here = session.slot(state);
    const next = session.nextSlot(state);
    const left = session.remaining(state, this.#clock.now());
    const last_count = session.before(state, here);
    const counts = ["count", "do"].includes(phase.name);
    const counting = stage === "count";
    const resting = (counting || stage === "do" || stage === "ready") && left !== null;
    const skips = phase.name === "count" ? next : here;
    const just = done.at(-1);
    return {
      ...this.#named(plan),
      side: here.side,
      Side: capital(here.side),
      set: here.set,
      sets,
      second: here.second,
      next: next?.side,
      Next: next && capital(next.side),
      next_set: next?.set,
      next_side: next !== null,
      clock: left === null ? "" : stage === "lead" || stage === "swing" ? Math.ceil(left / 1000) : spell(left / 1000),
      swing: Math.round((phase.left ?? phase.length) / 1000),
      taps: phase.taps,
      count: counts ? session.shownCount(state) : "",
      last_count,
      counted_now: last_count !== null && (phase.reps !== null || phase.taps > 0),
      prefilled: counting && last_count !== null && phase.reps === null && phase.taps === 0,
      last_on: plan.before && shortDay(plan.before.on),
      goal: plan.goal,
      late: phase.late,
      change: counting && !here.second && next !== null,
      resting_stage: counting && here.second && next !== null,
      last_one: counting && next === null,
      resting,
      rest_on: resting && left > 0,
      rest_over: resting && left === 0,
      just: stage === "do" && just !== undefined,
      just_set: just?.set,
      just_side: just?.side,
      just_reps: just?.reps,
      leads_in: phase.name === "lead" || phase.name === "swing",
      cut: phase.name === "swing",
      cut_left: left === null ? "" : Math.ceil(left / 1000),
      lead_in: state.lead_in,
      noted: state.noted,
      calm: !state.noted,
      pain_stop: state.pain_stop,
      hurt_wrong: this.#problems.hurt,
      skips_set: skips !== null && !skips.second,
      skips_side: skips !== null && skips.second,
      skip_set: skips?.set,
      skip_side: skips?.side,
      can_pause: ["lead", "swing"].includes(stage),
      can_undo: state.past.length > 0 && !["lead", "swing"].includes(stage),
      can_redo: state.undone.length > 0 && !["lead", "swing"].includes(stage),
      can_skip: !["lead", "swing"].includes(stage) && skips !== null,
      can_extra: counting && next === null,
      can_leave: ["paused", "ready", "count", "do"].includes(stage),
    };
  }

  // The last questions.

  #drawEnd() {
    const state = this.#state;
    const form = root.querySelector("[data-form='end']");
    const fresh = this.#key !== null;
    const names = { ...this.#named(state.plan) };
    const total = (side) => sum(state.done.filter((set) => set.side === side).map(({ reps }) => reps));
    const counts = (side) => state.done.filter((set) => set.side === side).map(({ reps }) => reps).join(" ");
    const effort = state.effort === null ? "" : String(state.effort);
    const pain = state.pain_now;
    const values = {
      ...names,
      fresh,
      changing: !fresh,
      left_total: total("left"),
      right_total: total("right"),
      uneven: total("left") !== total("right"),
      counts_line: `left ${counts("left") || "–"}, right ${counts("right") || "–"}`,
      effort_said: state.effort !== null,
      effort_word: this.#book.efforts.find(({ value }) => value === effort)?.word,
      pain_stop: state.pain_stop,
      hurts: pain !== null && pain.score > 0,
      more_pain: session.painOf(state).length < session.MOST_PAIN,
      must_stop: session.mustStop(state),
      saves: fresh && !session.mustStop(state),
      saves_change: !fresh && !session.mustStop(state),
      may_go_on: fresh && !session.mayNotGoOn(state),
      may_discard: fresh && !session.mustStop(state),
      waits: state.waits,
      can_add: state.done.length > 0 || state.plan.movement !== undefined,
      trained: state.trained,
      warm_up: state.warm_up,
      weekday: isDay(state.day) ? dayWords(state.day) : "",
      can_undo: state.past.length > 0 && !session.mayNotGoOn(state),
      empty: this.#problems.empty,
      effort_wrong: this.#problems.effort,
      pain_wrong: this.#problems.pain,
      day_wrong: this.#problems.day,
    };
    const firstTime = this.#stages.current !== "end";
    this.#stages.draw("end", values, { alone: fresh });
    if (firstTime) form.querySelector("details.counts").open = !fresh;
    chooseMark(form.querySelector("[data-scale='effort']"), effort === "" ? "" : String(Math.floor(state.effort)));
    chooseMark(form.querySelector("[data-scale='pain']"), pain === null ? "" : String(pain.score));
    form.half.checked = state.effort !== null && state.effort % 1 !== 0;
    form.half.disabled = state.effort === null || state.effort === 10;
    show(form.place, pain?.place ?? "");
    show(form.note, session.noteOf(state));
    form.day.max = this.#phone.today();
    if (document.activeElement !== form.day) form.day.value = state.day;
    this.#drawRows(form);
  }

  #drawRows(form) {
    const { done, pain } = this.#state;
    const rows = sameLength(form.querySelector("[data-list='sets']"), done.length, "#set-row");
    rows.forEach((row, index) => {
      const { set, side, reps } = done[index];
      const input = row.querySelector("input");
      const id = `set-${index}`;
      if (input.id !== id) {
        input.id = id;
        input.dataset.index = index;
        row.querySelector("label").htmlFor = id;
        row.querySelector("button").dataset.index = index;
      }
      row.querySelector("label").textContent = `Set ${set}, ${side}`;
      row.querySelector("button").setAttribute("aria-label", `Remove set ${set}, ${side}`);
      show(input, reps);
    });
    const told = sameLength(form.querySelector("[data-list='pains']"), pain.length, "#pain-row");
    told.forEach((row, index) => {
      const { score, place } = pain[index];
      row.querySelector("span").textContent = place ? `${score}, ${place}` : `${score}`;
      row.querySelector("button").dataset.index = index;
    });
  }

  #say(field, value) {
    this.#problems = {};
    this.#does("say", { field, value });
  }

  #sayEffort(form) {
    const chosen = form.querySelector("[data-scale='effort'] input:checked")?.value ?? "";
    const half = form.half.checked && chosen !== "10" ? 0.5 : 0;
    this.#say("effort", chosen === "" ? null : Number(chosen) + half);
  }

  #sayPain(form) {
    const chosen = form.querySelector("[data-scale='pain'] input:checked")?.value ?? "";
    const place = form.place.value.trim();
    const score = Number(chosen);
    this.#say("pain_now", chosen === "" ? null : { score, place: score === 0 || place === "" ? null : place });
  }

  /** The last questions are answered: kept on the phone, and sent. */
  #finish() {
    const state = this.#state;
    const entry = session.entryOf(state);
    const { must_say } = this.#book;
    this.#problems = {
      empty: entry.sets.length === 0 && !entry.pain.some(({ score }) => score > 0),
      effort: must_say.effort && entry.effort === null,
      pain: must_say.pain && entry.pain.length === 0,
      day: !isDay(entry.on) || entry.on > this.#phone.today(),
    };
    const wrong = Object.keys(this.#problems).find((name) => this.#problems[name]);
    if (!wrong) return void this.#keep();
    this.#draw();
    root.querySelector(`[data-if='${wrong}_wrong'], [data-if='${wrong}']:not([hidden])`)?.scrollIntoView({ block: "center" });
  }

  async #keep(content = session.entryOf(this.#state)) {
    const state = this.#state;
    this.#state = null;
    try {
      await this.#writer?.written();
      const dayBy = this.#key !== null && !state.day_chosen ? "phone" : "athlete";
      const dropping = this.#key ?? undefined;
      const record = await this.#keptAs(content, { dayBy, dropping });
      root.querySelector("#unkept").hidden = true;
      this.#signals.rest();
      this.#letGo?.();
      this.#letGo = null;
      this.#kept = {
        id: record.content.id,
        stops: !content.taken_back && session.mustStop(state),
        back: content.taken_back,
        totals: ["left", "right"].map((side) =>
          sum(content.sets.filter((set) => set.side === side).map(({ reps }) => reps)),
        ),
        named: this.#named(state.plan),
      };
      await this.#drawKept();
    } catch {
      // Nothing is said to be kept that is not; it is tried again until it is.
      root.querySelector("#unkept").hidden = false;
      this.#state = state;
      this.#stages.draw("not-kept", { stops: state.phase.name === "stopped" || session.mustStop(state) });
      this.#unkept = content;
      setTimeout(() => this.#keepAgain(), AGAIN);
    }
  }

  #keepAgain() {
    if (this.#state && this.#stages.current === "not-kept") void this.#keep(this.#unkept);
  }

  /**
   * Keeps an entry. Where browsers have no locks, another window may have kept the same session with
   * other counts: then this one is a change of it.
   */
  async #keptAs(content, how) {
    const record = await this.#phone.keep(content, how);
    const same = ["sets", "pain", "effort", "minutes", "note"].every(
      (name) => JSON.stringify(record.content[name]) === JSON.stringify(content[name]),
    );
    if (same) return record;
    const { id, session } = record.content;
    return this.#phone.keep({ ...content, id: this.#phone.newId(), replaces: id, session }, how);
  }

  async #drawKept() {
    const { id, stops, back, totals, named } = this.#kept;
    const record = (await this.#phone.entries()).find(({ content, was }) => content.id === id || was.includes(id));
    const { signed_in, problem } = await this.#phone.status();
    const arrived = record?.state === "arrived";
    const turned_down = ["refused", "changed_meanwhile", "set_aside"].includes(record?.state);
    const held_up = !arrived && !turned_down && (signed_in === false || problem === "not_allowed");
    this.#stages.draw(stops || record?.stop ? "stopped" : "kept", {
      ...named,
      arrived,
      turned_down,
      held_up,
      on_hold: turned_down || held_up,
      told: !turned_down && !held_up,
      kept_here: !arrived && !turned_down,
      waiting: !arrived && !turned_down && !held_up,
      kept_back: back,
      kept_set: !back,
      left_total: totals[0],
      right_total: totals[1],
      plan_changed: record?.plan,
      change: this.#changing(id),
    });
  }

  #changing(id) {
    return `${root.dataset.train}?entry=${id}`;
  }

  async #discard() {
    this.#state = null;
    await this.#writer.close();
    await this.#phone.underway.drop(this.#key);
    this.#signals.rest();
    this.#letGo?.();
    this.#stages.draw("gone", {});
  }

  // Something logged is changed.

  async #change(id) {
    const records = await this.#phone.entries();
    const newest = await this.#carried(({ logged }) => newestOf(records, logged, id));
    if (!newest?.content || newest.content.taken_back) return this.#stages.draw("unknown", {});
    if (newest.state === "changed_meanwhile") return location.replace(root.dataset.phone);
    const { content } = newest;
    const planned = this.#book.planned.find((one) => one.planned === content.planned?.planned);
    const first = content.sets[0] ?? (planned && { ...planned, asked: planned.reps });
    const called = (list, wanted) => list.find((one) => one.id === wanted)?.name ?? "";
    this.#state = session.reopen(
      content,
      {
        movement: first?.movement,
        hands: first?.hands,
        club: first?.club,
        movement_name: called(this.#book.movements, first?.movement) || planned?.movement_name,
        club_name: called(this.#book.clubs, first?.club) || planned?.club_name,
        sets: Math.max(1, Math.ceil(content.sets.length / 2)),
        seconds: first?.seconds ?? null,
        reps: first?.asked ?? null,
        goal: null,
        rest_seconds: 0,
      },
      {
        id: this.#phone.newId(),
        replaces: newest.revision,
        pain_stop: this.#book.pain_stop,
        lead_in: this.#settings.lead_in,
      },
    );
    this.#draw();
  }

  #takeBack() {
    void this.#keep({ ...session.entryOf(this.#state), taken_back: true });
  }

  // What is tapped and typed.

  /** What never changes on the page: scales and chips. */
  #furnish() {
    const scale = (name) => root.querySelector(`[data-scale='${name}']`);
    const unsaid = { value: "", word: "not said", shown: "not said" };
    const efforts = this.#book.efforts.filter(({ value }) => /^\d+$/.test(value));
    const pains = this.#book.pains.filter(({ value }) => value !== "");
    const marks = (list) => list.map((mark) => ({ ...mark, shown: mark.value }));
    makeScale(root, scale("effort"), "effort", [...marks(efforts), unsaid]);
    makeScale(root, scale("pain"), "pain", [...marks(pains), unsaid]);
    makeScale(root, scale("hurt"), "score", marks(pains.filter(({ value }) => value !== "0")));
    for (const chips of root.querySelectorAll("[data-chips]")) makeChips(root, chips);
  }

  #listen() {
    // What is counted answers when the finger comes down; a click would wait for it to leave.
    root.addEventListener("pointerdown", (event) => {
      this.#signals?.unlock();
      const tap = event.target.closest("[data-tap]");
      if (tap && event.button === 0) this.#tapped(tap.dataset.tap);
    });
    root.addEventListener("click", (event) => {
      this.#signals?.unlock();
      const tap = event.target.closest("[data-tap]");
      // A click without a finger is a key, or a screen reader.
      if (tap) return event.detail === 0 ? this.#tapped(tap.dataset.tap) : undefined;
      const button = event.target.closest("[data-act]");
      if (button && !this.#bounced(event)) this.#acted(button.dataset.act, button);
    });
    root.addEventListener("input", (event) => this.#typed(event.target));
    root.addEventListener("change", (event) => this.#picked(event.target));
    root.addEventListener("focusout", () => {
      if (this.#state && this.#stages.current !== "not-kept") this.#draw();
    });
    root.addEventListener("submit", (event) => {
      event.preventDefault();
      if (!this.#bounced(event)) this.#sent(event.target, event.submitter);
    });
    root.addEventListener("focusin", ({ target }) => {
      if (target.dataset.number || target.dataset.index) target.select?.();
    });
    globalThis.addEventListener("pagehide", () => this.#writer?.flush());
    this.#phone.onChange(() => {
      if (this.#kept) void this.#drawKept();
    });
    setInterval(() => this.#tick(), 100);
  }

  #bounced(event) {
    const again = event.timeStamp - this.#tookAt < BOUNCE && event.detail !== 0;
    if (!again) this.#tookAt = event.timeStamp;
    return again;
  }

  #tapped(what) {
    if (!this.#state) return;
    const last = this.#state.done.length - 1;
    const just = this.#state.done[last]?.reps;
    const count = ["count", "do"].includes(this.#state.phase.name) ? session.shownCount(this.#state) : 0;
    switch (what) {
      case "rep":
        return this.#does("rep");
      case "more":
        return this.#does("count", { reps: count + 1 });
      case "fewer":
        return this.#does("count", { reps: count - 1 });
      case "just-more":
        return this.#does("correct", { index: last, reps: just + 1 });
      case "just-fewer":
        return this.#does("correct", { index: last, reps: just - 1 });
    }
  }

  #acted(act, button) {
    this.#problems = {};
    switch (act) {
      case "begin":
        return void this.#start();
      case "keep-again":
        return this.#keepAgain();
      case "stop-here":
        return this.#does("skip_rest", { reason: "it hurt" });
      case "again":
        return void this.#begin();
      case "take-over":
        return void this.#take(this.#key, { take: true });
      case "ask-hurt":
        root.querySelector("[data-form='hurt']").reset();
        return this.#does("ask", { what: "hurt" });
      case "ask-skip":
        root.querySelector("[data-form='skip']").reset();
        return this.#does("ask", { what: "skip" });
      case "add-left":
        return this.#does("add", { side: "left" });
      case "add-right":
        return this.#does("add", { side: "right" });
      case "remove-set":
        return this.#does("correct", { index: Number(button.dataset.index), reps: null });
      case "remove-pain":
        return this.#say("pain", this.#state.pain.toSpliced(Number(button.dataset.index), 1));
      case "another-pain": {
        const { pain, pain_now } = this.#state;
        this.#say("pain", [...pain, pain_now]);
        return this.#say("pain_now", null);
      }
      case "discard":
        return void this.#discard();
      case "take-back":
        return this.#takeBack();
      default:
        return this.#does(act);
    }
  }

  #typed(input) {
    if (!this.#state) return;
    const { number, index } = input.dataset;
    const typed = whole(input.value, 0, session.MOST_REPS);
    if (number === "count" && typed !== undefined) return this.#does("count", { reps: typed });
    if (index !== undefined && typed !== undefined) {
      return this.#does("correct", { index: Number(index), reps: typed });
    }
    if (number === "trained" || number === "warm_up") {
      const minutes = whole(input.value, 0, 600);
      const none = number === "trained" ? null : 0;
      if (minutes !== undefined || input.value.trim() === "") this.#say(number, minutes ?? none);
    }
    const form = input.closest("[data-form='end']");
    if (!form) return;
    if (input.name === "note") this.#say("note", input.value);
    if (input.name === "place") this.#sayPain(form);
  }

  #picked(input) {
    if (input.closest("[data-form='free']")) return this.#drawFree({});
    const form = input.closest("[data-form='end']");
    if (!form || !this.#state) return;
    if (input.name === "effort" || input.name === "half") this.#sayEffort(form);
    if (input.name === "pain") this.#sayPain(form);
    if (input.name === "day") {
      this.#say("day_chosen", true);
      this.#say("day", input.value);
    }
  }

  #sent(form, submitter) {
    switch (form.dataset.form) {
      case "free":
        return void this.#chosen();
      case "hurt":
        return this.#tellHurt(form);
      case "skip": {
        const said = [form.why.value, form.words.value.trim()].filter((words) => words !== "");
        return this.#does(submitter?.value ?? "skip_set", { reason: said.join(", ") });
      }
      case "end":
        return this.#finish();
    }
  }

  #tellHurt(form) {
    const score = form.score.value;
    this.#problems = { hurt: score === "" };
    if (score === "") return this.#draw();
    return this.#does("hurt", { score: Number(score), place: form.place.value });
  }
}

/** Which stage shows a state. */
function stageOf(state) {
  if (state.asking) return `ask-${state.asking}`;
  if (state.paused !== null) return "paused";
  return state.phase.name;
}

/** A whole number within bounds, or undefined. */
function whole(text, least, most) {
  const typed = text.trim();
  if (!/^\d{1,6}$/.test(typed)) return undefined;
  const number = Number(typed);
  return number >= least && number <= most ? number : undefined;
}

/** Makes a list as long as asked, with rows of a template; gives the rows. */
function sameLength(list, length, template) {
  while (list.children.length > length) list.lastElementChild.remove();
  while (list.children.length < length) list.append(root.querySelector(template).content.cloneNode(true));
  return [...list.children];
}

/**
 * The newest version of a session that an id of it leads to, among what is kept here and what the server
 * said last: {content, revision, state}.
 */
function newestOf(records, logged, id) {
  const meant = ({ content, was }) => content.id === id || content.session === id || was.includes(id);
  const session = records.find(meant)?.content.session ?? id;
  const standing = records.filter(({ content, state }) => content.session === session && state !== "set_aside");
  const said = logged.find((one) => one.session === session || one.revision === id);
  const mine = standing[0];
  const follows = (record) => {
    if (!record || record.content.replaces === null) return false;
    if (record.content.replaces === said.revision) return true;
    return follows(standing.find(({ content }) => content.id === record.content.replaces));
  };
  const isMine = mine && (!said || mine.state !== "arrived" || mine.content.id === said.revision || follows(mine));
  if (isMine) return { content: mine.content, revision: mine.content.id, state: mine.state };
  return said && { content: said.entry, revision: said.revision, state: "arrived" };
}

const sum = (numbers) => numbers.reduce((all, number) => all + number, 0);

/** From the smallest to the largest, or the one that all are. */
function span(counts) {
  const [least, most] = [Math.min(...counts), Math.max(...counts)];
  return least === most ? `${least}` : `${least} to ${most}`;
}

/** Seconds as a person says them: 45 s, 1:30. */
function spell(seconds) {
  const all = Math.ceil(seconds);
  if (all < 60) return `${all} s`;
  return `${Math.floor(all / 60)}:${String(all % 60).padStart(2, "0")}`;
}

const isDay = (text) => /^\d{4}-\d{2}-\d{2}$/.test(text);

/** A day of this year or the last as in "Sat 21 Nov". */
const shortDay = (day) => dayWords(day).split(" ").slice(0, 3).join(" ");

void new Training().open();
