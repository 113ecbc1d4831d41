// A coach assigns a block to three athletes, sees what the rules object to in a weight jump, goes on
// with a reason for one of them, and every athlete has the sessions.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const WHO = ["Abena Thorsley", "Elske Brandt", "Bruno Ashgrove"];

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("assign"));
  for (const name of WHO) await page.getByRole("checkbox", { name }).check();
  await page.getByLabel("Movement", { exact: true }).selectOption({ label: "pullover" });
  await page.getByRole("radio", { name: /Two hands/ }).check();
  // Abena works with Alder 5: this club is far too big a step.
  const club = page.getByLabel("Club", { exact: true });
  const heavy = await club.locator("option", { hasText: "Forge 9.9" }).first().getAttribute("value");
  await club.selectOption(heavy);
  for (const day of ["Monday", "Thursday"]) await page.getByRole("checkbox", { name: day }).check();
  await page.getByLabel("Starts on").fill("2026-11-30");
  await page.getByLabel("Weeks", { exact: true }).fill("many");
  await page.getByRole("button", { name: "Look at every session" }).click();

  // Weeks are a number: the form comes back with all that was chosen.
  await page.locator("#weeks[aria-invalid]").waitFor();
  await isWithinReach(page, "the form with an error");
  for (const name of WHO) {
    hold(await page.getByRole("checkbox", { name }).isChecked(), `${name} is not ticked any more`);
  }
  hold((await club.inputValue()) === heavy, "the club was lost");
  await page.getByLabel("Weeks", { exact: true }).fill("4");
  await page.getByRole("button", { name: "Look at every session" }).click();
  await page.getByRole("heading", { name: "Look before you assign" }).waitFor();
  const text = await page.locator("main").innerText();
  for (const name of WHO) hold(text.includes(name), `${name} is missing from the preview`);
  hold(text.includes("24 sessions for 3 athletes"), "three athletes, two days, four weeks are 24");
  hold(text.includes("W1"), "the weight jump is not objected to");
  await picture(page, "journey-assign-objection");
  await isWithinReach(page, "the preview");

  await page.getByRole("button", { name: "Assign", exact: true }).click();
  hold(
    (await page.locator("main").innerText()).includes("Look before you assign"),
    "it was assigned over an objection without a reason",
  );
  await isWithinReach(page, "the preview that asks for a reason");
  const because = page.getByLabel(/Why it goes ahead/);
  await because.fill("A test week with the heavy club under my eyes.");
  await page.getByRole("button", { name: "Assign", exact: true }).click();
  await page.waitForURL((url) => !url.pathname.endsWith("/assign") || url.search.includes("done"));
  await picture(page, "journey-assign-done");
  hold(wrong.length === 0, wrong.join("\n"));
});
