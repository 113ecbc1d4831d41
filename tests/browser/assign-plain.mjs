// A coach on a phone without script: the same steps as buttons, links and forms alone.

import { at, fits, hold, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const WHO = ["Abena Thorsley", "Elske Brandt"];

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, {
    viewport: { width: 360, height: 740 },
    javaScriptEnabled: false,
  });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("roster"));
  for (const who of WHO) await page.getByRole("checkbox", { name: `Tick ${who}` }).check();
  await picture(page, "journey-assign-plain-roster");
  await page.getByRole("button", { name: "Assign a block" }).click();
  for (const who of WHO) {
    hold(await page.getByRole("checkbox", { name: who }).isChecked(), `${who} is not ticked`);
  }
  await page.getByLabel("Movement", { exact: true }).selectOption({ label: "pullover" });
  await page.getByText("Keep this as a block template").click();
  await page.getByLabel("Name of the template").fill("Plain");
  await page.getByRole("button", { name: "Keep it" }).click();
  await page.getByRole("heading", { name: "Plain" }).waitFor();
  await picture(page, "journey-assign-plain-templates");

  // Changed: a second version, and the first still there to read.
  await page.getByRole("link", { name: "Change Plain" }).click();
  await page.getByLabel("Weeks", { exact: true }).fill("3");
  await picture(page, "journey-assign-plain-template");
  await page.getByRole("button", { name: "Save a new version" }).click();
  await page.getByText("All 2 versions").click();

  await page.getByRole("link", { name: /Assign from this/ }).click();
  for (const who of WHO) await page.getByRole("checkbox", { name: who }).check();
  const club = page.getByLabel("Club", { exact: true });
  const heavy = await club.locator("option", { hasText: "Forge 9.9" }).first().getAttribute("value");
  await club.selectOption(heavy);
  await page.getByRole("button", { name: "Look at every session" }).click();
  await page.getByRole("heading", { name: "Look before you assign" }).waitFor();
  await picture(page, "journey-assign-plain-look");
  await page.getByLabel("Why it goes ahead all the same").fill("Under my eyes.");
  await page.getByRole("button", { name: "Assign", exact: true }).click();
  await page.waitForURL((url) => url.search.includes("done"));

  // One of the blocks again, one step on, from its own page.
  await page.goto(at("roster"));
  await page.getByRole("link", { name: WHO[0], exact: true }).click();
  await page.getByRole("link", { name: "Last block again, one step on" }).click();
  await page.getByRole("heading", { name: "Look before you assign" }).waitFor();
  await fits(page, "the look without script");
  await picture(page, "journey-assign-plain-again");
  hold(wrong.length === 0, wrong.join("\n"));
});
