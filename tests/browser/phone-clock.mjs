// A phone whose clock is wrong by a day, before it ever heard of the server and after: no session is
// lost or refused for it, and the athlete is asked where the day may be wrong.

import { at, fits, hold, isWithinReach, picture, signIn, withBrowser } from "./browser.mjs";
import { keep, lineSays, openPhone, until } from "./phones.mjs";

/** The server's clock stands at 2026-11-25 18:00 UTC. */
const RIGHT = new Date("2026-11-25T18:00:00Z");
const AHEAD = new Date("2026-11-26T18:00:00Z");
const BEHIND = new Date("2026-11-24T18:00:00Z");

const MOVED = "Your phone’s clock is ahead: logged for Wed 25 Nov 2026; change the day if that is wrong.";
const ASKED = "This session is logged for Tue 24 Nov 2026. Is that the right day?";

const { movements, clubs } = JSON.parse(process.env.LEVERBOOK_TEST_WORK);

/** A session as it is kept on a phone that has never carried a book. */
const keepWithoutBook = (page, note) =>
  page.evaluate(
    async ({ movement, club, note }) => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      const id = phone.newId();
      const set = { movement, hands: "two", club, side: "left", seconds: null, reps: 5, asked: null };
      const entry = { format: 1, id, replaces: null, session: id, on: phone.today(), planned: null };
      const rest = { sets: [set], effort: null, pain: [], minutes: null, note, taken_back: false };
      await phone.keep({ ...entry, ...rest }, { dayBy: "phone" });
    },
    { movement: movements[0], club: clubs[0], note },
  );

/**
 * Instants and the gym's day at them. Directive 2000/84/EC: summer time ends on the last Sunday of
 * October and begins on the last one of March, at 01:00 UTC; Lisbon keeps UTC+0 and UTC+1.
 */
const DAYS = [
  ["2026-10-24T22:59:59Z", "2026-10-24"],
  ["2026-10-24T23:00:00Z", "2026-10-25"],
  ["2026-10-25T00:59:59Z", "2026-10-25"],
  ["2026-10-25T23:59:59Z", "2026-10-25"],
  ["2026-10-26T00:00:00Z", "2026-10-26"],
  ["2027-03-27T23:59:59Z", "2027-03-27"],
  ["2027-03-28T00:00:00Z", "2027-03-28"],
  ["2027-03-28T22:59:59Z", "2027-03-28"],
  ["2027-03-28T23:00:00Z", "2027-03-29"],
];

/** The phone's day is the gym's, wherever the phone thinks that it is. */
async function countsTheGymsDays(page) {
  for (const [instant, day] of DAYS) {
    await page.clock.setFixedTime(new Date(instant));
    const found = await page.evaluate(() => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      return leverbook.outbox.open({ account: meta("account"), gym: meta("gym") }).today();
    });
    hold(found === day, `at ${instant} it is ${found} in the gym, not ${day}`);
  }
}

async function asks(page, sentence, name) {
  await lineSays(page, "1 session needs you.");
  await page.goto(at("phone"));
  await page.getByText(sentence).waitFor();
  await page.getByRole("link", { name: "Change the day" }).waitFor();
  await fits(page, name);
  await isWithinReach(page, name);
  await picture(page, `journey-${name}`);
  await page.getByRole("button", { name: "The day is right" }).tap();
  await until("it is asked no more", async () => (await page.getByText(sentence).count()) === 0);
}

await withBrowser(async (browser) => {
  for (const [word, clock, sentence] of [
    ["ahead", AHEAD, MOVED],
    ["behind", BEHIND, ASKED],
  ]) {
    // Before the first contact: nothing was carried, so the phone's own clock gives the day.
    // The worker's clock cannot be set, so these phones have none.
    let phone = await openPhone(browser, { timezoneId: "Europe/Lisbon", serviceWorkers: "block" });
    await phone.page.clock.setFixedTime(clock);
    await phone.page.route("**/carry", (route) => route.abort());
    await signIn(phone.page, process.env.LEVERBOOK_TEST_ATHLETE);
    await phone.page.goto(at("today"));
    await keepWithoutBook(phone.page, `${word}, before the first contact`);
    await lineSays(phone.page, "1 session waits");
    await phone.page.unroute("**/carry");
    await phone.page.evaluate(() => dispatchEvent(new Event("online")));
    await asks(phone.page, sentence, `phone-clock-${word}`);
    phone.nothingWrong();
    await phone.context.close();

    // After it: the clock was right when the book was carried, and was set wrong without signal.
    phone = await openPhone(browser, { timezoneId: "Pacific/Auckland", serviceWorkers: "block" });
    await phone.page.clock.setFixedTime(RIGHT);
    await signIn(phone.page, process.env.LEVERBOOK_TEST_ATHLETE);
    await phone.page.goto(at("today"));
    await until("the book is carried", () =>
      phone.page.evaluate(async () => {
        const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
        return (await leverbook.outbox.open({ account: meta("account"), gym: meta("gym") }).carried()) !== null;
      }),
    );
    await phone.loseSignal();
    await countsTheGymsDays(phone.page);
    await phone.page.clock.setFixedTime(clock);
    await keep(phone.page, { planned: false, note: `${word}, after the first contact` });
    await phone.findSignal();
    await asks(phone.page, sentence, `phone-clock-${word}-later`);
    phone.nothingWrong();
    await phone.context.close();
  }
});
