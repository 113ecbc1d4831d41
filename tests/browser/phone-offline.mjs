// An athlete trains without any signal, opens all pages of theirs, logs, corrects, and comes back
// into signal, where an answer gets lost at first. Then a page stays open over midnight.

import { at, hold, withBrowser } from "./browser.mjs";
import { change, forwarder, keep, lineSays, looked, openPhone, signInOnPhone, until } from "./phones.mjs";

await withBrowser(async (browser) => {
  const { page, nothingWrong, loseSignal, findSignal } = await openPhone(browser);
  await signInOnPhone(page, process.env.LEVERBOOK_TEST_ATHLETE);
  const planned = page.locator("section[data-planned]");
  hold((await planned.count()) === 1, "one session is planned for today");

  // Without signal, all of the athlete's pages open, also after a reload and with another query.
  await loseSignal();
  for (const name of ["today", "plan", "mine", "phone", "log/new", "train?planned=x", "today?done=saved"]) {
    await page.goto(at(name));
    await page.getByRole("heading", { level: 1 }).first().waitFor();
    hold((await page.title()).includes("Quarry Lane"), `${name} without signal: ${await page.title()}`);
  }
  await page.goto(at("rules"));
  const none = await page.getByRole("heading", { level: 1 }).textContent();
  hold(none === "No signal", `rules are not kept, but: ${none}`);
  await looked(page, "phone-no-signal-page");
  await page.goto(at("today"));
  await page.reload();
  await lineSays(page, "No signal. Your plan is on this phone.");
  await looked(page, "phone-today-no-signal");

  // What is under way is gone on with from the top of Today.
  const underway = (write) =>
    page.evaluate(async (write) => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const { underway } = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      await (write ? underway.write("free", { plan: { movement_name: "inside circle" } }) : underway.drop("free"));
    }, write);
  await underway(true);
  await page.reload();
  await page.getByText("Under way: Inside circle.").waitFor();
  const on = await page.getByRole("link", { name: "Go on" }).getAttribute("href");
  hold(on.endsWith("/train?free=1"), `what is under way goes on at ${on}`);
  await looked(page, "phone-today-under-way");
  await underway(false);
  await page.reload();
  await lineSays(page, "No signal. Your plan is on this phone.");

  // Signing out needs signal, and says so.
  await page.getByRole("button", { name: "Sign out" }).tap();
  await page.getByRole("heading", { name: "You are still signed in" }).waitFor();
  await looked(page, "phone-sign-out-no-signal");
  await page.getByRole("button", { name: "Close" }).tap();

  // Logged, corrected, and another session: all kept, none sent; what is done is no longer to do.
  const first = await keep(page);
  await change(page, first, { note: "The last set was short." });
  await keep(page, { planned: false, reps: 9, note: "A few more. 🏋" });
  await lineSays(page, "No signal. 2 sessions wait on this phone.");
  await until("the planned session is hidden", async () => !(await planned.isVisible()));
  const kept = page.locator("#kept-here li");
  await until("both sessions are listed", async () => (await kept.count()) === 2);
  await looked(page, "phone-today-waits");
  await page.reload();
  await lineSays(page, "No signal. 2 sessions wait on this phone.");
  hold(!(await planned.isVisible()), "the planned session is shown again after a reload");
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: "Waits to be sent" }).waitFor();
  await page.getByText("Changed once").waitFor();
  hold((await page.locator(".kept-list > li").count()) === 2, "two sessions, two cards");
  const ready_in = page.getByLabel("Time to get ready");
  await ready_in.fill("2");
  await ready_in.blur();
  await page.getByText("from 3 to 60. It stays at 10 seconds until then.").waitFor();
  hold((await ready_in.inputValue()) === "2", "what was typed is gone");
  await page.getByText("What was kept").first().tap();
  await looked(page, "phone-page-waits");
  await page.getByRole("button", { name: "Try to send now" }).tap();
  await page.getByText("2 sessions wait still: there is no signal").waitFor();

  // Signal again, but the first answer gets lost after the server has stored.
  await forwarder("answer-lost");
  await findSignal();
  await lineSays(page, "All that was to be sent has arrived.");
  await page.getByRole("heading", { name: "Arrived" }).waitFor();
  await looked(page, "phone-page-arrived");
  await page.goto(at("today"));
  await page.getByRole("heading", { name: "Logged today" }).waitFor();
  hold((await page.locator("#kept-here").count()) === 0, "what has arrived is listed as kept");

  // An address that leads on to another page signs nobody out: without signal, Today still opens. A
  // server that fails shows no worse than the kept page.
  await page.goto(at(`log/new?planned=${first.planned.planned}`));
  hold(!page.url().includes("/log/new"), `a logged session's form does not lead on: ${page.url()}`);
  await loseSignal();
  await page.goto(at("today"));
  hold((await page.title()).startsWith("Today"), `after a redirect, Today without signal: ${await page.title()}`);
  await findSignal();
  await forwarder("failed");
  await page.goto(at("plan"));
  hold((await page.title()).startsWith("Plan"), `a failing server shows: ${await page.title()}`);
  await forwarder("clear");
  await page.goto(at("today"));

  // The page stays open, without signal, until Saturday: then it shows Saturday's session.
  await until("the book is newer than what arrived", () =>
    page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
      const { carried_at } = await phone.status();
      return (await phone.entries()).every(({ arrived_at }) => arrived_at <= carried_at);
    }),
  );
  // A book that is on its way would set the clock right again.
  await page.waitForLoadState("networkidle");
  await loseSignal();
  const saturday = new Date((await page.evaluate(() => Date.now())) + 63 * 3_600_000);
  await page.clock.setFixedTime(saturday);
  await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
  await page.locator('[data-day="2026-11-28"]').waitFor();
  hold((await planned.count()) === 1, "Saturday's session is there to do");
  await looked(page, "phone-today-on-saturday");

  // What is taken back is to do again.
  const saturdays = await keep(page);
  await until("Saturday's session is hidden", async () => !(await planned.isVisible()));
  await change(page, saturdays, { taken_back: true });
  await until("Saturday's session is there again", () => planned.isVisible());

  // What hurt waits for the coach at once, long before the coach can know: the movement, or, where the
  // pain is of no single one, everything. (Rule L4; that nobody swings on what hurts: common practice, no
  // source.)
  const ready = planned.getByRole("link", { name: "Get ready" });
  hold(await ready.isVisible(), "Saturday's session can be begun");
  const hurt = await keep(page, { planned: false, pain: [{ score: 5, place: "left elbow" }] });
  await planned.getByRole("heading", { name: "Waits for your coach" }).waitFor();
  hold(!(await ready.isVisible()), "what hurt can be begun again");
  const all = page.getByRole("heading", { name: "Your coach wants to look first" });
  hold(!(await all.isVisible()), "pain of one movement stops every other");
  await looked(page, "phone-today-hurt");
  await page.reload();
  await planned.getByRole("heading", { name: "Waits for your coach" }).waitFor();
  hold(!(await ready.isVisible()), "what hurt can be begun again after a reload");
  await change(page, hurt, { pain: [{ score: 1, place: "left elbow" }] });
  await ready.waitFor();
  const ache = await keep(page, { planned: false, sets: [], pain: [{ score: 4, place: null }] });
  await all.waitFor();
  hold(!(await ready.isVisible()), "while everything waits, a session can be begun");
  await looked(page, "phone-today-all-waits");
  await change(page, ache, { taken_back: true });
  await ready.waitFor();
  hold(!(await all.isVisible()), "what was taken back still stops everything");
  nothingWrong();
});
