// What the journeys of an athlete's phone share.

import { at, base, fits, hold, isWithinReach, openWindow, picture, signIn } from "./browser.mjs";

/** What the browser itself writes on its console when there is no signal. */
const NO_SIGNAL = /ERR_INTERNET_DISCONNECTED|ERR_EMPTY_RESPONSE|ERR_CONNECTION|ERR_FAILED|status of 5|Cross-Origin-Opener-Policy/;

let phones = 0;

/**
 * A phone of 360 px, whose page fails the journey on a script error. Its signal is cut by the
 * forwarder, too: the browser's own way to be offline does not reach service workers.
 */
export async function openPhone(browser, options = {}) {
  const { context, page, wrong } = await openWindow(browser, {
    viewport: { width: 360, height: 740 },
    isMobile: true,
    hasTouch: true,
    ...options,
  });
  const nothingWrong = () => {
    const rest = wrong.filter((line) => !NO_SIGNAL.test(line));
    hold(rest.length === 0, rest.join("\n"));
  };
  phones += 1;
  const name = `number-${phones}-`;
  await context.addCookies([{ name: "phone", value: name, url: base }]);
  const loseSignal = async () => {
    await forwarder(`cut-${name}`);
    await context.setOffline(true);
  };
  const findSignal = async () => {
    await forwarder(`mend-${name}`);
    await context.setOffline(false);
  };
  return { context, page, nothingWrong, loseSignal, findSignal };
}

/** A state of a page: it fits, axe finds nothing, and pictures are kept, dark and light. */
export async function looked(page, name) {
  await fits(page, name);
  await isWithinReach(page, name);
  await page.emulateMedia({ colorScheme: "dark" });
  await picture(page, `journey-${name}-dark`);
  await page.emulateMedia({ colorScheme: "light" });
  await picture(page, `journey-${name}`);
}

/** Tells the forwarder before the server what is to happen. */
export async function forwarder(word) {
  // Names in a gym's own network are known to the browser alone.
  const there = `http://127.0.0.1:${new URL(base).port}`;
  const answer = await fetch(`${there}/forwarder/${word}`, { method: "POST" });
  hold(answer.status === 204, `the forwarder answered ${answer.status} to ${word}`);
}

/** Waits until something holds; says what was waited for, and what there was instead. */
export async function until(what, condition, seconds = 20) {
  let found;
  const end = Date.now() + 1000 * seconds;
  while (Date.now() < end) {
    found = await condition();
    if (found === true) return;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  throw new Error(`waited in vain until ${what}: ${JSON.stringify(found)}`);
}

/** Signs an athlete in and waits until the phone carries the book, the pages and the files. */
export async function signInOnPhone(page, email) {
  await signIn(page, email);
  await page.goto(at("today"));
  await carried(page);
}

/** Waits until the phone carries everything that it needs without signal. */
export const carried = (page) =>
  until("the phone carries its pages, files and book", () =>
    page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`)?.content;
      const { outbox } = globalThis.leverbook;
      // A page that was on its way when the worker began is not its own yet; the next one is.
      if (!(await navigator.serviceWorker.getRegistration())?.active) return "no worker";
      const cache = await caches.open(outbox.pagesOf(meta("account")));
      const pages = (await cache.keys()).length;
      const release = /\/static\/([^/]+)\//.exec(document.querySelector("script").src)[1];
      const files = await caches.match(outbox.completeMark(release));
      const book = await outbox.open({ account: meta("account"), gym: meta("gym") }).carried();
      const all = pages === outbox.PAGES.length && Boolean(files) && book !== null;
      return all || { pages, files: Boolean(files), book: book !== null };
    }),
  );

/** Keeps a session as a training page does: the planned one of today, or one of one's own choice. */
export const keep = (page, { planned = true, reps = 15, dayBy = "phone", ...more } = {}) =>
  page.evaluate(
    async ({ planned, reps, dayBy, more }) => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`)?.content;
      const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      const book = await phone.carried();
      const today = book?.planned.find((one) => one.on === phone.today()) ?? book?.planned[0];
      const id = phone.newId();
      const set = (side) => ({
        movement: today.movement,
        hands: today.hands,
        club: today.club,
        side,
        seconds: today.seconds,
        reps,
        asked: null,
      });
      const content = {
        format: 1,
        id,
        replaces: null,
        session: id,
        on: phone.today(),
        planned: planned ? { planned: today.planned, revision: today.revision } : null,
        sets: [set("left"), set("right")],
        effort: 6,
        pain: [],
        minutes: 32,
        note: "",
        taken_back: false,
        ...more,
      };
      return (await phone.keep(content, { dayBy })).content;
    },
    { planned, reps, dayBy, more },
  );

/** Keeps a change of an entry. */
export const change = (page, content, changes) =>
  page.evaluate(
    async ({ content, changes }) => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`)?.content;
      const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      const changed = { ...content, id: phone.newId(), replaces: content.id, ...changes };
      return (await phone.keep(changed, { dayBy: "athlete" })).content;
    },
    { content, changes },
  );

/** The states of what is on the phone, newest first. */
export const states = (page) =>
  page.evaluate(async () => {
    const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
    const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
    return (await phone.entries()).map(({ state }) => state).join();
  });

/** The line that says what waits; empty where it says nothing. */
export const line = async (page) => ((await page.locator("#outbox-line").textContent()) ?? "").trim();

/** Waits until the line says it. */
export const lineSays = (page, words) =>
  until(`the line says “${words}”`, async () => (await line(page)).includes(words)).catch(async (error) => {
    throw new Error(`${error.message}; it says “${await line(page)}”`);
  });
