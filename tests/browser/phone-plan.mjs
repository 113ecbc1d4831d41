// The coach changes or ends the plan while a session of it waits on the athlete's phone: the log
// holds what was done, and the phone says in words what is different now.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";
import { keep, line, lineSays, openPhone, signInOnPhone, until } from "./phones.mjs";

const ends = process.env.LEVERBOOK_TEST_PLAN === "ends";

await withBrowser(async (browser) => {
  const { page, nothingWrong, loseSignal, findSignal } = await openPhone(browser);
  await signInOnPhone(page, process.env.LEVERBOOK_TEST_ATHLETE);
  await loseSignal();
  const { planned } = await keep(page);

  const coach = await openWindow(browser);
  await signIn(coach.page, process.env.LEVERBOOK_TEST_COACH);
  await coach.page.goto(at(`planned/${planned.planned}`));
  if (ends) {
    await coach.page.getByRole("link", { name: "To the block" }).click();
    await coach.page.getByLabel("Last day that counts").fill("2026-11-24");
    await coach.page.getByLabel("Why").fill("Away for a while.");
    await coach.page.getByRole("button", { name: "End the block" }).click();
  } else {
    await coach.page.getByText(/^Change sets/).click();
    await coach.page.getByLabel("Sets a side").fill("3");
    await coach.page.getByLabel("Why").fill("A lighter week.");
    await coach.page.getByRole("button", { name: "Change the plan" }).click();
  }
  await coach.page.locator(".notice.good").waitFor();

  await findSignal();
  await lineSays(page, "There is news about 1 session.");
  await page.goto(at("phone"));
  const said = ends ? "Your coach had taken the session of Wed 25 Nov 2026 out of your plan" : "Your coach had changed this session";
  await page.getByText(said).waitFor();
  await fits(page, "a changed plan");
  await isWithinReach(page, "a changed plan");
  await picture(page, `journey-phone-plan-${ends ? "ended" : "changed"}`);
  await page.getByRole("button", { name: "I have read it" }).tap();
  await until("the line says nothing more of it", async () => !(await line(page)).includes("news"));
  hold((await page.getByText(said).count()) === 0, "it is still said");
  nothingWrong();
});
