// One athlete, two phones: both change the same session without signal. Nothing is lost, and the
// athlete decides which one counts. Then a phone is signed out from elsewhere while work waits on it.

import { at, base, hold, signIn, withBrowser } from "./browser.mjs";
import { change, keep, lineSays, looked, openPhone, signInOnPhone, states, until } from "./phones.mjs";

const athlete = process.env.LEVERBOOK_TEST_ATHLETE;

await withBrowser(async (browser) => {
  const [one, two] = [await openPhone(browser), await openPhone(browser)];
  await signInOnPhone(one.page, athlete);
  const first = await keep(one.page, { note: "first" });
  await lineSays(one.page, "All that was to be sent has arrived.");
  await signInOnPhone(two.page, athlete);

  // Both change it, the second phone twice.
  await two.loseSignal();
  await change(one.page, first, { note: "from the first phone" });
  // The line said that before the change, too.
  await until("the change has arrived", async () => (await states(one.page)) === "arrived,arrived");
  await lineSays(one.page, "All that was to be sent has arrived.");
  const changed = await change(two.page, first, { note: "from the second phone", effort: 7 });
  await change(two.page, changed, { note: "from the second phone, once more", effort: 7 });
  await two.findSignal();
  await lineSays(two.page, "1 session needs you.");
  await two.page.getByRole("link", { name: "On this phone" }).first().tap();
  await two.page.getByRole("heading", { name: /^Changed twice/ }).waitFor();
  const shown = await two.page.locator("#phone-entries section").first().innerText();
  for (const words of ["In the gym’s log now", "from the first phone", "Yours, on this phone", "from the second phone"]) {
    hold(shown.includes(words), `“${words}” is not shown: ${shown}`);
  }
  await looked(two.page, "phone-conflict");

  // Mine counts: the other version stays behind it, and my later change follows.
  await two.page.getByRole("button", { name: "Use mine instead" }).tap();
  await two.page.getByRole("heading", { name: /^Arrived/ }).waitFor();
  await two.page.getByText("Changed once").waitFor();

  // Once more, and now the log stays as it is.
  const newest = await two.page.evaluate(async () => {
    const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
    const phone = leverbook.outbox.open({ account: meta("account"), gym: meta("gym") });
    return (await phone.entries())[0].content;
  });
  await two.loseSignal();
  const aside = await change(two.page, newest, {
    note: "will be set aside",
    pain: [{ score: 5, place: "left elbow" }],
  });
  await change(two.page, aside, { note: "will be set aside, too" });
  await one.page.evaluate(async () => {
    const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
    await leverbook.outbox.open({ account: meta("account"), gym: meta("gym") }).carry();
  });
  await change(one.page, newest, { note: "", taken_back: true, sets: [], effort: null, minutes: null });
  await until("the first phone took it back", async () => (await states(one.page)).startsWith("arrived"));
  await two.findSignal();
  await two.page.getByRole("heading", { name: /^Changed twice/ }).waitFor();
  await two.page.getByText("it does not count").waitFor();
  await two.page.getByText("Your coach does not know of this pain until it is in the gym’s log.").waitFor();
  await looked(two.page, "phone-conflict-taken-back");
  await two.page.getByRole("button", { name: "Leave the gym’s log as it is" }).tap();
  await two.page.getByRole("heading", { name: "Set aside" }).waitFor();
  await two.page.locator("#phone-said", { hasText: "Yours is set aside" }).waitFor();
  await looked(two.page, "phone-set-aside");
  await two.page.getByText("What was kept").last().tap();
  await two.page.getByText("will be set aside", { exact: true }).waitFor();

  // The same id with other content, as from a phone put back to an older state.
  const same = await keep(one.page, { planned: false, note: "same id, first" });
  await until("the first has arrived", async () => (await states(one.page)).startsWith("arrived"));
  await keep(two.page, { planned: false, id: same.id, session: same.id, note: "same id, second" });
  await two.page.getByRole("heading", { name: /^Changed twice/ }).waitFor();
  await two.page.getByRole("button", { name: "Use mine instead" }).tap();
  await until("the second has arrived", async () => (await states(two.page)).startsWith("arrived"));

  // Signed out from elsewhere while a session waits here.
  await two.loseSignal();
  await keep(two.page, { planned: false, note: "kept before the sign-out" });
  await lineSays(two.page, "1 session waits on this phone.");
  await one.page.goto(`${base}/account`);
  await one.page.getByRole("button", { name: /everywhere/ }).tap();
  await one.page.waitForURL((url) => url.pathname === "/sign-in");
  await two.findSignal();
  await lineSays(two.page, "You are signed out. 1 session waits on this phone.");
  await two.page.getByRole("link", { name: "Sign in to send it" }).first().waitFor();
  await looked(two.page, "phone-signed-out");
  await two.page.goto(at("phone"));
  hold(new URL(two.page.url()).pathname === "/sign-in", "a kept page is shown to nobody");
  await two.page.getByText("1 session waits on this phone. It is sent when").waitFor();
  const text = await two.page.locator("body").innerText();
  hold(!text.includes("Bruno") && !text.includes("kept before"), `the sign-in page tells whose: ${text}`);
  await looked(two.page, "phone-sign-in-waits");
  await signIn(two.page, athlete);
  await two.page.goto(at("phone"));
  await until("it has arrived", async () => /^Arrived/.test(await two.page.locator("#phone-entries h2").first().innerText()));
  one.nothingWrong();
  two.nothingWrong();
});
