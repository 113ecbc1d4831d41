// A coach with a keyboard and nothing else: ticks two athletes on the roster, takes their last blocks
// again, reads what the rules object to, changes a number, gives a reason in a row, and assigns.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const WHO = ["Abena Thorsley", "Elske Brandt"];

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("roster"));

  const name = () =>
    page.evaluate(() => {
      const here = document.activeElement;
      const label = here.labels?.[0]?.innerText ?? here.getAttribute("aria-label") ?? here.innerText;
      return `${here.tagName} ${label ?? ""}`.replace(/\s+/g, " ").trim();
    });
  /** Goes on with the tab key until the thing in focus is called so. */
  const tabTo = async (called, most = 400) => {
    for (let pressed = 0; pressed < most; pressed += 1) {
      await page.keyboard.press("Tab");
      if (called.test(await name())) return;
    }
    throw new Error(`${called} is not reached by the tab key; at ${await name()}`);
  };

  for (const who of WHO) {
    await tabTo(new RegExp(`Tick ${who}`));
    await page.keyboard.press("Space");
  }
  // Back up to what is done with them.
  for (let pressed = 0; !/Last block again/.test(await name()); pressed += 1) {
    hold(pressed < 400, "no way back to the button");
    await page.keyboard.press("Shift+Tab");
  }
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: "Assign a block" }).waitFor();
  for (const who of WHO) {
    hold(await page.getByRole("checkbox", { name: who }).isChecked(), `${who} is not ticked`);
  }
  hold(await page.getByRole("radio", { name: /last block again/i }).isChecked(), "not again");
  await isWithinReach(page, "the form for the last block again");
  await tabTo(/Look at every session/);
  await page.keyboard.press("Enter");
  await page.getByRole("heading", { name: "Look before you assign" }).waitFor();
  await isWithinReach(page, "the look at the last block again");

  // A number in a row, the heavy club by its first letters, and a look at what that makes.
  await tabTo(new RegExp(`Club for ${WHO[0]}`));
  await page.keyboard.type("Forge 9");
  await tabTo(new RegExp(`Sets a side for ${WHO[0]}`));
  await page.keyboard.press("Control+A");
  await page.keyboard.type("4");
  await tabTo(/Look again/);
  await page.keyboard.press("Enter");
  await page.locator(".objection").first().waitFor();
  await tabTo(/SUMMARY .*W1/);
  hold(await page.evaluate(() => document.activeElement.parentElement.open), "the objection is folded");
  await page.keyboard.press("Enter");
  hold(!(await page.evaluate(() => document.activeElement.parentElement.open)), "it cannot be folded");
  await page.keyboard.press("Enter");
  await tabTo(new RegExp(`Why it goes ahead for ${WHO[0]}`));
  await page.keyboard.type("Swings it at home.");
  await picture(page, "journey-assign-keys");
  for (const who of WHO.slice(1)) {
    const asks = page.getByLabel(new RegExp(`Why it goes ahead for ${who}`));
    if (await asks.count()) {
      await tabTo(new RegExp(`Why it goes ahead for ${who}`));
      await page.keyboard.type("Agreed.");
    }
  }
  await tabTo(/^BUTTON Assign$/);
  await page.keyboard.press("Enter");
  await page.waitForURL((url) => url.search.includes("done"));
  hold(wrong.length === 0, wrong.join("\n"));
});
