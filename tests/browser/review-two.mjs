// Two coaches with the same roster at once; no signal; signed out. What was typed stays, and what
// went wrong is said where it happened.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const WEEK = "review?week=2026-W47";

await withBrowser(async (browser) => {
  const size = { viewport: { width: 1280, height: 900 } };
  const one = await openWindow(browser, size);
  const two = await openWindow(browser, size);
  await signIn(one.page, process.env.LEVERBOOK_TEST_COACH);
  await signIn(two.page, process.env.LEVERBOOK_TEST_OTHER_COACH);
  for (const { page } of [one, two]) await page.goto(at(WEEK));
  const line = ({ page }, name) => page.getByRole("article", { name });
  const button = (window, name, word) =>
    line(window, name).getByRole("button", { name: word, exact: true });

  // What the other decided stands beside what was typed, and can be put aside knowingly.
  await button(two, "Ada Arden", "Hold").click();
  await line(two, "Ada Arden").getByText(/^Held/).waitFor();
  const mine = line(one, "Ada Arden");
  await mine.getByText("Change it, or write a note").click();
  await mine.getByLabel(/Note to/).fill("Rest the elbow.");
  await button(one, "Ada Arden", "Accept").click();
  await mine.getByRole("alert").waitFor();
  const told = await mine.innerText();
  hold(/Tiber Quayle decided meanwhile, Wed 25 Nov 2026, 18:00: “Held/.test(told), told);
  hold((await mine.getByLabel(/Note to/).inputValue()) === "Rest the elbow.", "the note is lost");
  hold(
    await mine.getByRole("alert").evaluate((notice) => notice === document.activeElement),
    "the focus is not on what happened",
  );
  await picture(one.page, "two-meanwhile");
  await isWithinReach(one.page, "a decision upon a newer one");
  await button(one, "Ada Arden", "Accept").click();
  await mine.getByText(/^Accepted as proposed/).waitFor();
  hold((await mine.innerText()).includes("Before: Held: nothing changes this week, by Tiber Quayle"), "no history");

  // A page that is looked at again marks what has changed, and leaves alone what is being typed.
  await button(one, "Bela Arden", "Hold").click();
  await line(one, "Bela Arden").getByText(/^Held/).waitFor();
  const typing = line(two, "Bela Arden");
  await typing.getByText("Change it, or write a note").click();
  await typing.getByLabel(/^Why/).fill("A cold.");
  await two.page.waitForTimeout(3100);
  await two.page.evaluate(() => dispatchEvent(new Event("focus")));
  await line(two, "Ada Arden").getByText("Changed meanwhile").waitFor();
  hold((await line(two, "Ada Arden").innerText()).includes("Accepted as proposed by Runa Averill"), "not the newest");
  await typing.getByText(/Changed meanwhile.*Held.*Runa Averill.*What you typed is still here/).waitFor();
  hold((await typing.getByLabel(/^Why/).inputValue()) === "A cold.", "typed over");
  const marks = await two.page.getByText("Changed meanwhile").count();
  hold(marks >= 2 && marks <= 3, `${marks} lines are marked`);
  await picture(two.page, "two-looked-again");
  await isWithinReach(two.page, "a week that changed meanwhile");

  // A closed week has no place for what was not sent.
  await two.page.getByRole("button", { name: "Close this week" }).click();
  await two.page.getByRole("alert").getByText("What you typed for Bela Arden was not sent").waitFor();
  await isWithinReach(two.page, "a week that is not closed over what was typed");
  // What was chosen and not sent is kept like what was typed.
  const choosing = line(two, "Caro Arden");
  await choosing.getByText("Change it, or write a note").click();
  await choosing.getByLabel("Instead").selectOption("wait_for_coach");
  await choosing.getByText("Change it, or write a note").focus();

  // No signal: said in place, kept, and taken once when it is back.
  const lost = line(one, "Caro Arden");
  await lost.getByText("Change it, or write a note").click();
  await lost.getByLabel(/Note to/).fill("Slow down.");
  await one.context.setOffline(true);
  await button(one, "Caro Arden", "Hold").click();
  await lost.getByRole("alert").getByText("The server cannot be reached").waitFor();
  hold((await lost.getByLabel(/Note to/).inputValue()) === "Slow down.", "the note is lost");
  await picture(one.page, "two-offline");
  await isWithinReach(one.page, "no signal");
  await one.context.setOffline(false);
  await button(one, "Caro Arden", "Hold").click();
  await lost.getByText(/^Held/).waitFor();
  await two.page.waitForTimeout(3100);
  await two.page.evaluate(() => dispatchEvent(new Event("focus")));
  await choosing.getByText(/Changed meanwhile.*Held/).waitFor();
  hold((await choosing.getByLabel("Instead").inputValue()) === "wait_for_coach", "another choice");

  // Signed out, in again on another page: the same form goes through.
  const out = line(one, "Dov Arden");
  await out.getByText("Change it, or write a note").click();
  await out.getByLabel(/Note to/).fill("Lighter.");
  await one.context.clearCookies();
  await button(one, "Dov Arden", "Hold").click();
  await out.getByRole("alert").getByText("You are signed out").waitFor();
  await isWithinReach(one.page, "signed out");
  const door = await one.context.newPage();
  await signIn(door, process.env.LEVERBOOK_TEST_COACH);
  await button(one, "Dov Arden", "Hold").click();
  await out.getByRole("alert").getByText("You signed in again meanwhile").waitFor();
  hold((await out.getByLabel(/Note to/).inputValue()) === "Lighter.", "the note is lost");
  await button(one, "Dov Arden", "Hold").click();
  await out.getByText(/^Held/).waitFor();
  // Somebody else signed in: nothing is decided in their name.
  await signInAs(door, one.context, process.env.LEVERBOOK_TEST_OTHER_COACH);
  await button(one, "Elin Arden", "Hold").click();
  await line(one, "Elin Arden").getByRole("alert").waitFor();
  await button(one, "Elin Arden", "Hold").click();
  await line(one, "Elin Arden").getByRole("alert").getByText("Please send this once more").waitFor();
  for (const { wrong } of [one, two]) {
    const real = wrong.filter((sentence) => !sentence.includes("ERR_INTERNET_DISCONNECTED"));
    hold(real.length === 0, real.join("\n"));
  }
});

async function signInAs(page, context, email) {
  await context.clearCookies();
  await signIn(page, email);
}
