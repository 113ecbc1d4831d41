// The guided session on a 360 px phone. Each scene is started by a test that then looks into the log.
// The browser's clock is moved, so that intervals and rests take no time here.

import { mkdtemp, readdir, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { BROWSER, at, fits, hold, isWithinReach, openWindow, signIn, withBrowser } from "./browser.mjs";
import { carried } from "./phones.mjs";

const told = process.env;
const PHONE = { viewport: { width: 360, height: 740 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true };
/** The page takes a second tap within 400 ms for the same one. */
const STEADY = 450;

/** Somebody's thumb on the page, counting its taps. */
class Thumb {
  taps = 0;
  constructor(page) {
    this.page = page;
  }
  button(name) {
    return this.page.locator("#train").getByRole("button", { name, exact: typeof name === "string" });
  }
  async press(name) {
    await this.page.waitForTimeout(0);
    await new Promise((done) => setTimeout(done, STEADY));
    await this.button(name).tap();
    this.taps += 1;
  }
  /** One mark of a scale. */
  async mark(scale, name) {
    await this.page.locator(`[data-scale='${scale}'] .mark`).filter({ hasText: new RegExp(`^${name}$`) }).tap();
    this.taps += 1;
  }
  async stage(name) {
    await this.page.locator(`#train[data-at='${name}']`).waitFor();
  }
  /** Time passes until a stage is reached. */
  async until(name, most = 400) {
    for (let second = 0; second < most; second += 1) {
      if ((await this.page.locator("#train").getAttribute("data-at")) === name) return;
      await this.page.clock.runFor(1000);
    }
    throw new Error(`no ${name} within ${most} s: ${await this.page.locator("#train").innerText()}`);
  }
  async reads() {
    return (await this.page.locator("#train > section:visible").innerText()).replace(/\s+/g, " ");
  }
  async count() {
    return this.page.locator("input.count:visible").inputValue();
  }
  /** Looks at the stage: axe, sideways scrolling, size of targets, a picture in light and dark. */
  async look(name) {
    await isWithinReach(this.page, name);
    await fits(this.page, name);
    const small = await this.page.evaluate(() =>
      [...document.querySelectorAll("#train button, #train a.button, #train .mark, #train .choice, #train input:not([type='radio'], [type='checkbox'])")]
        .filter((element) => element.checkVisibility())
        .map((element) => [element.innerText || element.id, element.getBoundingClientRect()])
        .filter(([, box]) => box.height < 44 || box.width < 44)
        .map(([words, box]) => `${words}: ${box.width} × ${box.height}`),
    );
    hold(small.length === 0, `${name} has targets too small for a thumb: ${small}`);
    const main = await this.page.evaluate(() => {
      const button = [...document.querySelectorAll("#train .bottom .main")].find((one) => one.checkVisibility());
      return button?.getBoundingClientRect().height ?? 64;
    });
    hold(main >= 64, `the main action of ${name} is ${main} px high`);
    for (const colorScheme of ["dark", "light"]) {
      await this.page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      await this.page.screenshot({ path: `${told.LEVERBOOK_TEST_PICTURES}/train-${name}-${colorScheme}.png` });
    }
  }
}

/**
 * A phone on which the athlete is signed in, with its clock where the gym's is. Only a page's clock can
 * be moved, so there is no worker, which would go by another one.
 */
async function phoneOf(browser, options = {}) {
  const moved = { ...PHONE, serviceWorkers: "block", ...options };
  const { context, page, wrong } = await openWindow(browser, moved);
  await context.clock.install({ time: new Date(told.LEVERBOOK_TEST_NOW) });
  // What the phone is told to do beside the page: this machine has neither a buzzer nor a screen.
  await context.addInitScript(() => {
    globalThis.buzzed = [];
    navigator.vibrate = (pattern) => globalThis.buzzed.push(pattern.join(" "));
    globalThis.tones = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...when) {
      globalThis.tones += 1;
      return start.apply(this, when);
    };
    globalThis.awake = 0;
    const asked = navigator.wakeLock?.request.bind(navigator.wakeLock);
    if (asked) {
      navigator.wakeLock.request = async (kind) => {
        const lock = await asked(kind);
        globalThis.awake += 1;
        lock.addEventListener("release", () => (globalThis.awake -= 1));
        return lock;
      };
    }
  });
  await signIn(page, told.LEVERBOOK_TEST_ATHLETE);
  return { context, page, wrong, thumb: new Thumb(page) };
}

const planned = () => at(`train?planned=${told.LEVERBOOK_TEST_INTERVALS}`);
const ladder = () => at(`train?planned=${told.LEVERBOOK_TEST_LADDER}`);

/** The session has left the phone. */
async function arrived(thumb) {
  const there = thumb.page.getByRole("heading", { name: "Arrived" });
  await there.waitFor().catch(async () => {
    const records = await thumb.page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      return [await phone.entries(), await phone.status()];
    });
    throw new Error(`not arrived: ${await thumb.reads()}\n${JSON.stringify(records)}`);
  });
}

const scenes = {
  /** Five interval sets of both sides, as counted last time but for two: few taps, all of it logged. */
  async interval(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.stage("before");
    await thumb.look("before");
    await thumb.press("Start");
    await thumb.stage("lead");
    await thumb.look("lead");
    const buzzes = () => page.evaluate(() => globalThis.buzzed.splice(0));
    await buzzes();
    await thumb.until("swing");
    hold((await buzzes()).at(-1) === "300", "no signal to go");
    await thumb.look("swing");
    await buzzes();
    await thumb.until("count");
    hold((await buzzes()).at(-1) === "250 100 250 100 250", "no signal to change hands");
    hold((await page.evaluate(() => globalThis.tones)) >= 4 + 4, "nothing was heard");
    hold((await page.evaluate(() => globalThis.awake)) === 1, "the screen may go dark");
    const first = await thumb.reads();
    hold(first.includes("Change hands"), `no change of hands: ${first}`);
    hold(first.includes("Left, set 1: how many?"), first);
    await thumb.look("change-hands");
    const counts = [await thumb.count()];
    await thumb.press(/^Keep \d+, start right$/);
    await thumb.until("swing");
    await thumb.until("count");
    await thumb.look("rest");
    hold((await thumb.reads()).includes("Next: set 2 of 5, left"), await thumb.reads());
    counts.push(await thumb.count());
    for (let slot = 2; slot < 10; slot += 1) {
      await thumb.press(/^(Keep \d+, start|Start set \d)/);
      await thumb.until("swing");
      hold((await thumb.reads()).startsWith(slot % 2 === 0 ? "Left" : "Right"), await thumb.reads());
      if (slot === 4) {
        // A partner counts along.
        for (let rep = 0; rep < 12; rep += 1) await page.locator(".pad").tap();
      }
      await thumb.until("count");
      if (slot === 7) {
        await page.getByRole("button", { name: "One more", exact: true }).tap();
        thumb.taps += 1;
      }
      counts.push(await thumb.count());
    }
    await thumb.look("last-set");
    await thumb.press(/^Keep \d+ and finish$/);
    await thumb.stage("end");
    await thumb.look("end");
    await thumb.mark("effort", 6);
    await thumb.mark("pain", 0);
    await thumb.look("end-answered");
    await thumb.press("Save this session");
    await arrived(thumb);
    hold((await page.evaluate(() => globalThis.awake)) === 0, "the screen is kept on for nothing");
    await thumb.look("arrived");
    hold(thumb.taps <= 16, `${thumb.taps} taps for a whole session`);
    await page.goto(planned());
    await thumb.stage("logged");
    await thumb.look("logged");
    hold(wrong.length === 0, wrong.join("\n"));
    console.log(JSON.stringify(counts.map(Number)));
  },

  /** The phone's storage is full: nothing is said to be kept, until it is. */
  async full(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await page.evaluate(() => {
      const add = IDBObjectStore.prototype.add;
      globalThis.makeRoom = () => (IDBObjectStore.prototype.add = add);
      IDBObjectStore.prototype.add = () => {
        throw new DOMException("no room", "QuotaExceededError");
      };
    });
    await thumb.press("Something hurts");
    await thumb.mark("hurt", 6);
    await thumb.press("Tell my coach");
    await thumb.stage("not-kept");
    const said = await thumb.reads();
    hold(said.includes("Not kept yet") && said.includes("Tell your coach yourself"), said);
    await thumb.look("not-kept");
    await page.clock.runFor(6000);
    await thumb.stage("not-kept");
    await page.evaluate(() => globalThis.makeRoom());
    await page.clock.runFor(6000);
    await thumb.stage("stopped");
    await page.getByText("Your coach is told.").waitFor();
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** A session is under way when pain is told elsewhere on the phone: it ends with what was done. */
  async halted(browser) {
    const { context, page, thumb } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.stage("before");
    // The book does not learn of it: nothing is sent, nothing comes.
    const sent = /\/(carry|log\/carried)$/;
    await context.route(sent, (route) => route.abort());
    await thumb.press("Start");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("13");
    await page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      const id = phone.newId();
      const nothing = { sets: [], effort: null, minutes: null, note: "", taken_back: false, planned: null };
      const pain = [{ score: 5, place: "neck" }];
      await phone.keep({ format: 1, id, replaces: null, session: id, on: phone.today(), pain, ...nothing });
    });
    await page.reload();
    await thumb.stage("end");
    const said = await thumb.reads();
    hold(said.includes("waits for your coach") && !/One more set|Undo/.test(said), said);
    await thumb.look("end-waits");
    await thumb.press("Save this session");
    await thumb.stage("kept");
    await page.goto(ladder());
    await thumb.stage("waits");
    await context.unroute(sent);
    await page.goto(planned());
    await thumb.stage("logged");
    const states = await page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      await phone.send();
      return (await phone.entries()).map(({ state }) => state);
    });
    hold(states.join(" ") === "arrived arrived", `what waited is ${states}`);
  },

  /** Every signal turned off: nothing sounds or buzzes, colour and large words are gone, and it works. */
  async quiet(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.stage("before");
    await page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      for (const name of ["sound", "vibration", "colour", "words"]) await phone.set(name, false);
      await phone.set("lead_in", 3);
    });
    await page.reload();
    await thumb.stage("before");
    hold((await thumb.reads()).includes("after 3 seconds"), await thumb.reads());
    await thumb.press("Start");
    await page.clock.runFor(3500);
    await thumb.stage("swing");
    await thumb.look("quiet-swing");
    await thumb.until("count");
    await thumb.look("quiet-change-hands");
    const told = await page.evaluate(() => [globalThis.buzzed.length, globalThis.tones]);
    hold(told[0] === 0 && told[1] === 0, `buzzed ${told[0]} times, sounded ${told[1]} times`);
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** Without a finger: by the keys alone, and what a screen reader is told. */
  async keys(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.stage("before");
    const heard = async (words) => {
      const said = await page.locator("#said").innerText();
      hold(said === words, `"${said}" is told, not "${words}"`);
    };
    const pressOn = async (name) => {
      await new Promise((done) => setTimeout(done, STEADY));
      await thumb.button(name).focus();
      await page.keyboard.press("Enter");
    };
    await pressOn("Start");
    await thumb.stage("lead");
    await heard("Get set: left, set 1 of 5.");
    await thumb.until("swing");
    await heard("Go. Left, 30 seconds.");
    // The pad has the focus: the space bar counts.
    for (let rep = 0; rep < 9; rep += 1) await page.keyboard.press("Space");
    await page.locator(".taps", { hasText: "9 counted" }).waitFor();
    await thumb.until("count");
    await heard("Change hands. Right next.");
    await pressOn("One more");
    hold((await thumb.count()) === "10", await thumb.count());
    await pressOn("Keep 10, start right");
    await thumb.stage("lead");
    await heard("Get set: right, set 1 of 5.");
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** After a session that hurt, pain has to be said; effort may still be left unsaid. */
  async asked(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(ladder());
    await thumb.press("Start");
    await thumb.press("Done: 5 left");
    await thumb.press("Done: 5 right");
    await thumb.press("Skip");
    await thumb.press("End the session here");
    // As much as stops a session, said at the end: back to work leads nothing any more.
    await thumb.mark("pain", 7);
    const stops = await thumb.reads();
    hold(!/One more set|Undo|Leave without saving/.test(stops), stops);
    hold(stops.includes("Save and tell my coach") && stops.includes("licensed clinician"), stops);
    await thumb.look("end-stops");
    await thumb.mark("pain", 3);
    await page.getByRole("button", { name: "left wrist", exact: true }).filter({ visible: true }).tap();
    await thumb.press("Another place");
    await thumb.mark("pain", 1);
    await thumb.look("end-pain");
    await thumb.press("Save this session");
    await arrived(thumb);
    await page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      await globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") }).carry();
    });
    await page.goto(at("train?free=1"));
    await page.getByText("by reps", { exact: true }).tap();
    await page.getByLabel("Sets on each side").fill("1");
    await thumb.press("On to the session");
    await thumb.press("Start");
    await thumb.press(/^Done: \d+ left$/);
    await thumb.press(/^Done: \d+ right$/);
    await thumb.stage("end");
    await thumb.press("Save this session");
    await thumb.stage("end");
    hold((await thumb.reads()).includes("0 is a good answer too"), await thumb.reads());
    await thumb.look("end-asked");
    await thumb.mark("pain", 0);
    await thumb.press("Save this session");
    await arrived(thumb);
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** A ladder: one tap a set, one number corrected before its set, one after. */
  async ladder(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(ladder());
    await thumb.stage("before");
    hold(!(await thumb.reads()).includes("after 10 seconds"), "straight sets have no lead-in");
    await thumb.press("Start");
    for (let slot = 0; slot < 10; slot += 1) {
      const side = slot % 2 === 0 ? "left" : "right";
      const set = Math.floor(slot / 2) + 1;
      const said = await thumb.reads();
      hold(said.toLowerCase().startsWith(`${side} set ${set} of 5`), said);
      if (slot === 0) await thumb.look("do");
      if (slot === 1) await thumb.look("do-second");
      if (slot === 2) {
        hold(said.includes("Rest 1:00"), said);
        await thumb.look("do-rest");
        await page.clock.runFor(61_000);
        hold((await thumb.reads()).includes("Rest is over"), await thumb.reads());
      }
      if (slot === 3) await page.getByRole("button", { name: "One fewer", exact: true }).tap();
      const done = slot === 3 ? `Done: 4 ${side}` : `Done: 5 ${side}`;
      await thumb.press(done);
      if (slot === 4) await page.getByRole("button", { name: "One more in the set before" }).tap();
    }
    await thumb.stage("end");
    await thumb.press("Save this session");
    await arrived(thumb);
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** A little pain is noted; more of it stops the session and is sent at once. */
  async pain(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await thumb.press("Something hurts");
    await thumb.stage("ask-hurt");
    await thumb.look("ask-hurt");
    await thumb.press("Tell my coach");
    hold((await thumb.reads()).includes("Please say how much"), await thumb.reads());
    await thumb.look("ask-hurt-wrong");
    await thumb.mark("hurt", 2);
    await thumb.press("Tell my coach");
    await thumb.stage("paused");
    hold((await thumb.reads()).includes("Go on only if it does not get worse"), await thumb.reads());
    await thumb.look("noted");
    await page.clock.runFor(60_000);
    await thumb.stage("paused");
    // Back from the question nothing starts by itself.
    await thumb.press("Something hurts");
    await thumb.press("Nothing hurts: back");
    await thumb.stage("paused");
    await thumb.press("Undo");
    await thumb.stage("ready");
    await thumb.look("ready");
    await thumb.press("Start set 1, left");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("17");
    await thumb.press("Keep 17, start right");
    await thumb.until("swing");
    await page.clock.runFor(9_000);
    for (let rep = 0; rep < 3; rep += 1) await page.locator(".pad").tap();
    await thumb.press("Something hurts");
    await thumb.mark("hurt", 4);
    await page.getByRole("button", { name: "left elbow", exact: true }).filter({ visible: true }).tap();
    await thumb.press("Tell my coach");
    await thumb.stage("stopped");
    await page.getByText("Your coach is told.").waitFor();
    await thumb.look("stopped");
    const said = await thumb.reads();
    for (const words of ["Put the club down", "licensed clinician", "no medical advice"]) {
      hold(said.includes(words), `"${words}" is not said: ${said}`);
    }
    await page.goto(planned());
    await thumb.stage("logged");
    // What hurt is not swung again before the coach has looked, planned or not.
    await page.goto(at("train?free=1"));
    await page.getByLabel("Movement").selectOption({ label: "inside circle" });
    await thumb.press("On to the session");
    await thumb.stage("waits");
    await thumb.look("waits");
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** A set is skipped, taken back, skipped again; one more is done; the rest is left with a reason. */
  async skip(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await thumb.press("Pause");
    await thumb.stage("paused");
    await thumb.look("paused");
    await page.clock.runFor(300_000);
    await thumb.press("Skip");
    await thumb.stage("ask-skip");
    await thumb.look("ask-skip");
    await page.getByText("Club or space was not free").tap();
    await thumb.press("Skip set 1");
    await thumb.stage("ready");
    hold((await thumb.reads()).startsWith("Left Set 2 of 5"), await thumb.reads());
    await thumb.press("Undo");
    hold((await thumb.reads()).startsWith("Left Set 1 of 5"), await thumb.reads());
    await thumb.press("Redo");
    hold((await thumb.reads()).startsWith("Left Set 2 of 5"), await thumb.reads());
    await thumb.press("Start set 2, left");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("11");
    await thumb.press("Skip");
    await thumb.press("Skip set 2, right");
    await thumb.stage("ready");
    hold((await thumb.reads()).startsWith("Right Set 3 of 5"), `right is behind: ${await thumb.reads()}`);
    await thumb.press("Start set 3, right");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("12");
    await thumb.press("Skip");
    await page.getByLabel(/In your own words/).fill("the school run");
    await thumb.press("End the session here");
    await thumb.stage("end");
    hold((await page.getByLabel(/^Note/).inputValue()).includes("the school run"), "no reason in the note");
    await page.getByLabel(/^Note/).fill(`${await page.getByLabel(/^Note/).inputValue()}\nGood hands. 🏋`);
    await page.getByLabel("Warming up before").fill("8");
    await page.getByLabel("Minutes").fill("20");
    await thumb.mark("effort", 3);
    await page.getByText("and a half").tap();
    await thumb.look("end-uneven");
    await thumb.press("Save this session");
    await arrived(thumb);
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** The phone dies in the middle of an interval, twice; nothing that was counted is lost. */
  async killed() {
    const profile = await mkdtemp(join(tmpdir(), "leverbook-phone-"));
    let now = Date.parse(told.LEVERBOOK_TEST_NOW);
    const revive = async () => {
      const context = await chromium.launchPersistentContext(profile, {
        ...BROWSER,
        ...PHONE,
        serviceWorkers: "block",
        locale: "en-GB",
      });
      await context.clock.install({ time: new Date(now) });
      const page = context.pages()[0] ?? (await context.newPage());
      await page.goto(planned());
      // Cookies are written to the disk later than what the athlete did.
      if (page.url().includes("/sign-in")) {
        await signIn(page, told.LEVERBOOK_TEST_ATHLETE);
        await page.goto(planned());
      }
      return { context, page, thumb: new Thumb(page) };
    };
    try {
      let { page, thumb } = await revive();
      await thumb.press("Start");
      await thumb.until("swing");
      await thumb.until("count");
      await page.locator("input.count:visible").fill("13");
      await thumb.press("Keep 13, start right");
      await thumb.until("swing");
      for (let rep = 0; rep < 4; rep += 1) await page.locator(".pad").tap();
      await page.locator(".taps", { hasText: "4 counted" }).waitFor();
      await onDisk(page, 4);
      now = await page.evaluate(() => Date.now());
      await killBrowserOf(profile);

      ({ page, thumb } = await revive());
      await thumb.stage("paused");
      hold((await thumb.reads()).includes("Right, set 1 of 5"), await thumb.reads());
      await thumb.press("Go on");
      await thumb.until("swing");
      hold((await thumb.reads()).includes("4 counted"), `taps were lost: ${await thumb.reads()}`);
      hold((await thumb.reads()).startsWith("Right"), await thumb.reads());
      await page.locator(".pad").tap();
      await page.locator(".taps", { hasText: "5 counted" }).waitFor();
      await onDisk(page, 5);
      await killBrowserOf(profile);

      // Found again an hour later: the interval is over, and its count is asked for.
      now += 3_600_000;
      ({ page, thumb } = await revive());
      await thumb.stage("count");
      hold((await thumb.reads()).includes("ended while the phone was locked"), await thumb.reads());
      hold((await thumb.count()) === "5", await thumb.count());
      await thumb.look("late");
      await page.locator("input.count:visible").fill("14");
      await thumb.press("Skip");
      await thumb.press("End the session here");
      await thumb.stage("end");
      await thumb.press("Save this session");
      await arrived(thumb);
      await page.context().close();
    } finally {
      await killBrowserOf(profile);
      await rm(profile, { recursive: true, force: true, maxRetries: 5 });
    }
  },

  /** Reloaded in an interval, closed through its end, the clock moved: the time stays right. */
  async reload(browser) {
    const { context, page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await page.clock.pauseAt(await page.evaluate(() => Date.now() + 10_000));
    const left = () => page.locator("[data-stage='swing'] .clock").innerText().then(Number);
    const before = await left();
    await page.reload();
    // A page without sound does not run on by itself.
    await thumb.stage("paused");
    const said = Number(/(\d+) s of the interval are left/.exec(await thumb.reads())?.[1]);
    hold(Math.abs(said - before) <= 1, `${before} s were left, now ${said}`);
    await thumb.press("Go on");
    await page.clock.runFor(10_500);
    await thumb.stage("swing");
    hold(Math.abs((await left()) - before) <= 1, `${before} s were left, now ${await left()}`);

    // Somebody sets the phone's clock an hour ahead, then a day back: the interval is as long as ever.
    for (const jump of [3_600_000, -86_400_000]) {
      const was = await left();
      await page.clock.setSystemTime(await page.evaluate((by) => Date.now() + by, jump));
      await page.clock.runFor(500);
      await thumb.stage("swing");
      hold(Math.abs((await left()) - was) <= 1, `${was} s were left before the jump, now ${await left()}`);
    }
    hold((await left()) > 3, "too slow a machine to see the jumps within one interval");
    await page.clock.resume();
    await page.locator(".pad").tap();
    await page.locator(".taps", { hasText: "1 counted" }).waitFor();
    const closed = await page.evaluate(() => Date.now());
    await page.close();

    const again = await context.newPage();
    await again.clock.setSystemTime(closed + 120_000);
    await again.goto(planned());
    const after = new Thumb(again);
    await after.stage("count");
    hold((await after.count()) === "1", await after.count());
    await after.press("Undo");
    await after.stage("ready");
    await after.press("Skip");
    await after.press("End the session here");
    await after.stage("end");
    await after.press("Save this session");
    hold((await after.reads()).includes("nothing to save"), await after.reads());
    await after.look("end-empty");
    await again.getByText("Leave without saving?").tap();
    await after.press("Throw it away");
    await after.stage("gone");
    await after.look("gone");
    await again.goto(planned());
    await after.stage("before");
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** Open in two windows: one counts, the other says so and can take over. */
  async windows(browser) {
    const { context, page, thumb, wrong } = await phoneOf(browser);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("15");
    const second = await context.newPage();
    await second.goto(planned());
    const other = new Thumb(second);
    await other.stage("elsewhere");
    await other.look("elsewhere");
    await other.press("Go on here");
    await other.stage("count");
    hold((await other.count()) === "15", `what the first window counted is not there: ${await other.count()}`);
    await thumb.stage("taken-over");
    await thumb.look("taken-over");
    await other.press("Keep 15, start right");
    await other.stage("lead");
    await thumb.press("Take it back here");
    await other.stage("taken-over");
    await thumb.stage("paused");
    await thumb.press("Go on");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("16");
    await thumb.press("Skip");
    await thumb.press("End the session here");
    await thumb.press("Save this session");
    await arrived(thumb);
    await second.reload();
    await other.stage("logged");
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** Work of one's own choice with a club never swung: what to mind is said in full. */
  async chosen(browser) {
    const { page, thumb, wrong } = await phoneOf(browser);
    await page.goto(at("train?free=1"));
    await thumb.stage("free");
    await thumb.look("free");
    await page.getByLabel("Sets on each side").fill("none");
    await thumb.press("On to the session");
    hold((await thumb.reads()).includes("Whole numbers please"), await thumb.reads());
    await page.getByLabel("Sets on each side").fill("2");
    await page.getByLabel("Club", { exact: true }).selectOption({ index: 0 });
    await thumb.press("On to the session");
    await thumb.stage("before");
    await thumb.look("before-new-club");
    const said = await thumb.reads();
    for (const words of ["Your first session with", "Clear the space", "dry grip", "Start light", "Stop on pain", "clinician"]) {
      hold(said.includes(words), `"${words}" is not said: ${said}`);
    }
    await page.goto(at("train?planned=00000000-0000-7000-8000-000000000000"));
    await thumb.stage("unknown");
    await thumb.look("unknown");
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** Work of one's own choice, begun shortly before the clocks strike; its day is the day it began. */
  async crossing(browser) {
    const { context, page, thumb } = await phoneOf(browser, { timezoneId: "America/New_York" });
    await page.goto(at("train?free=1"));
    await thumb.stage("free");
    await page.getByLabel("Movement").selectOption({ label: "inside circle" });
    await page.getByLabel("Club", { exact: true }).selectOption({ label: "Oak 6" });
    await page.getByText("against the clock", { exact: true }).tap();
    await page.getByLabel("Sets on each side").fill("1");
    await page.getByLabel("Seconds a set").fill("60");
    await page.getByLabel("Seconds of rest").fill("90");
    await thumb.press("On to the session");
    await thumb.stage("before");
    await page.getByText("Right", { exact: true }).tap();
    // The server's clock stands: without signal the phone's goes on past the hour.
    await context.setOffline(true);
    await thumb.press("Start");
    await thumb.until("swing");
    const began = await page.evaluate(() => Date.now());
    // Ten minutes of talk with the club put down.
    await thumb.press("Pause");
    await page.clock.runFor(600_000);
    await thumb.press("Go on");
    await thumb.until("swing");
    await thumb.until("count");
    const passed = (await page.evaluate(() => Date.now())) - began;
    hold(passed >= 600_000 + 60_000 && passed < 600_000 + 120_000, `the interval took ${passed - 600_000} ms`);
    await page.locator("input.count:visible").fill("21");
    await thumb.press("Keep 21, start left");
    await thumb.until("swing");
    await thumb.until("count");
    await page.locator("input.count:visible").fill("22");
    await thumb.press("Keep 22 and finish");
    await thumb.stage("end");
    const day = await page.locator("#end-day").inputValue();
    const today = await page.locator("#end-day").getAttribute("max");
    const weekday = await page.locator("label[for='end-day']").innerText();
    await thumb.press("Save this session");
    await thumb.stage("kept");
    const kept = await page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = globalThis.leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      return (await phone.entries())[0].content.on;
    });
    await context.setOffline(false);
    await arrived(thumb);
    console.log(JSON.stringify({ day, kept, today, weekday }));
  },

  /** A phone six times slower, a partner's thumb in a hurry: every tap counts, and is on the disk. */
  async throttled(browser) {
    const { context, page, thumb, wrong } = await phoneOf(browser);
    const debug = await context.newCDPSession(page);
    await page.goto(planned());
    await thumb.press("Start");
    await thumb.until("swing");
    await page.clock.pauseAt(await page.evaluate(() => Date.now() + 1000));
    await debug.send("Emulation.setCPUThrottlingRate", { rate: 6 });
    const burst = async (locator, times) => {
      const box = await locator.boundingBox();
      const touchPoints = [{ x: box.x + box.width / 2, y: box.y + box.height / 2 }];
      const sent = [];
      for (let tap = 0; tap < times; tap += 1) {
        // Not waited for: the next finger comes down while the page is still busy with the last one.
        sent.push(debug.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints }));
        sent.push(debug.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] }));
        await new Promise((done) => setTimeout(done, 25));
      }
      await Promise.all(sent);
    };
    await burst(page.locator(".pad"), 80);
    await page.locator(".taps", { hasText: "80 counted" }).waitFor();
    await page.reload();
    await thumb.stage("paused");
    await page.clock.resume();
    await thumb.press("Go on");
    await thumb.until("swing");
    hold((await thumb.reads()).includes("80 counted"), `not all taps were kept: ${await thumb.reads()}`);
    await thumb.until("count");
    hold((await thumb.count()) === "80", await thumb.count());
    await burst(page.getByRole("button", { name: "One fewer", exact: true }), 30);
    await burst(page.getByRole("button", { name: "One more", exact: true }), 7);
    await page.waitForFunction(() => document.querySelector("#count-number").value === "57");
    await page.reload();
    await thumb.stage("count");
    hold((await thumb.count()) === "57", `not all taps were kept: ${await thumb.count()}`);
    await debug.send("Emulation.setCPUThrottlingRate", { rate: 1 });
    await thumb.press("Skip");
    await thumb.press("End the session here");
    await thumb.press("Save this session");
    await arrived(thumb);
    hold(wrong.length === 0, wrong.join("\n"));
  },

  /** No signal from before the first set until after the last, the page reloaded meanwhile. */
  async offline(browser) {
    // With its worker, and so with the clock that there is: short intervals, waited for.
    const { context, page } = await openWindow(browser, PHONE);
    const thumb = new Thumb(page);
    await signIn(page, told.LEVERBOOK_TEST_ATHLETE);
    await page.goto(at("today"));
    await carried(page);
    await context.setOffline(true);
    await page.goto(at("train?free=1"));
    await thumb.stage("free");
    await page.getByLabel("Seconds a set").fill("2");
    await thumb.press("On to the session");
    await thumb.press("Start");
    await thumb.stage("count");
    await page.locator("input.count:visible").fill("18");
    await page.reload();
    await thumb.stage("count");
    hold((await thumb.count()) === "18", await thumb.count());
    await thumb.press("Keep 18, start right");
    await thumb.stage("lead");
    await thumb.stage("count");
    await page.locator("input.count:visible").fill("19");
    await thumb.press("Skip");
    await thumb.press("End the session here");
    await thumb.mark("effort", 5);
    await thumb.press("Save this session");
    await page.getByRole("heading", { name: "Kept on this phone" }).waitFor();
    await thumb.look("kept-offline");
    await context.setOffline(false);
    await arrived(thumb);
  },

  /** What was kept is changed before it left, after it arrived, and taken back. */
  async change(browser) {
    const { context, page, thumb, wrong } = await phoneOf(browser);
    await page.goto(ladder());
    await thumb.press("Start");
    await thumb.press("Done: 5 left");
    await thumb.press("Done: 5 right");
    await thumb.press("Skip");
    await thumb.press("End the session here");
    await thumb.press("Save this session");
    await arrived(thumb);
    await page.getByRole("link", { name: "Change it" }).tap();
    await thumb.stage("end");
    hold((await thumb.reads()).includes("Change what was logged"), await thumb.reads());
    await thumb.look("change");
    await page.getByLabel("Set 1, right", { exact: true }).fill("4");
    await thumb.press("Add a set, left");
    await page.getByLabel("Set 2, left", { exact: true }).fill("3");
    await page.getByLabel(/^Day/).fill("2026-11-26");
    await thumb.press("Save the change");
    hold((await thumb.reads()).includes("A day up to today"), await thumb.reads());
    await page.getByLabel(/^Day/).fill("2026-11-24");
    hold((await thumb.reads()).includes("Tue 24 Nov 2026"), await thumb.reads());
    await thumb.mark("pain", 2);
    await page.getByLabel(/^Where/).filter({ visible: true }).fill("left wrist");
    await thumb.press("Save the change");
    await arrived(thumb);
    await page.getByRole("link", { name: "Change it" }).tap();
    await thumb.stage("end");
    hold((await page.getByLabel("Set 2, left", { exact: true }).inputValue()) === "3", "the change is not shown");
    await page.getByText("Logged by mistake?").tap();
    await thumb.look("take-back");
    await thumb.press("Take this session back");
    await arrived(thumb);
    hold((await thumb.reads()).includes("Taken back"), await thumb.reads());
    await page.goto(ladder());
    await thumb.stage("before");
    hold(wrong.length === 0, wrong.join("\n"));
    await context.close();
  },
};

/**
 * Waits until the phone keeps so many taps. On a busy machine the screen shows a tap before it is written,
 * and no phone can keep what it had no time to write.
 */
const onDisk = (page, taps) =>
  page.waitForFunction(async (taps) => {
    const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
    const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
    return (await phone.underway.all()).some(({ value }) => value.phase.taps === taps);
  }, taps);

/** Ends, as a dead battery does, the browser that this scene started on its own folder. */
async function killBrowserOf(profile) {
  for (const id of await readdir("/proc")) {
    if (!/^\d+$/.test(id)) continue;
    const line = await readFile(`/proc/${id}/cmdline`, "utf8").catch(() => "");
    if (line.includes(`--user-data-dir=${profile}`)) {
      try {
        process.kill(Number(id), "SIGKILL");
      } catch {
        // It ended with the one before it.
      }
    }
  }
  await new Promise((done) => setTimeout(done, 500));
}

await withBrowser((browser) => scenes[told.LEVERBOOK_TEST_SCENE](browser));
