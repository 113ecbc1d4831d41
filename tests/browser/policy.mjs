// A coach tries a smaller largest step, sees whose flags it would turn, saves it, and makes an
// exception for one athlete, with a number out of range on the way.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const bruno = process.env.LEVERBOOK_TEST_BRUNO;

await withBrowser(async (browser) => {
  for (const [width, save] of [[1280, false], [360, true]]) {
    const { context, page, wrong } = await openWindow(browser, { viewport: { width, height: 800 } });
    await signIn(page, process.env.LEVERBOOK_TEST_COACH);
    await page.goto(at("policy"));
    const step = page.getByLabel("Largest step", { exact: true });
    await step.fill("300");
    await page.getByLabel("Pain that stops the work").fill("2");
    await page.getByLabel("A gap begins after", { exact: true }).fill("9");
    await page.getByLabel("Reason for the change").fill("Smaller steps after the summer.");
    await page.getByRole("button", { name: "See what would change" }).click();
    await page.locator("[id='step_percent'][aria-invalid]").waitFor();
    await isWithinReach(page, "the policy with an error");
    await picture(page, `journey-policy-error-${width}`);
    await step.fill("8");
    await page.getByRole("button", { name: "See what would change" }).click();
    await page.getByRole("heading", { name: "Your roster" }).waitFor();
    hold((await page.locator("main").innerText()).includes("Changes"), "no flag would change");
    await isWithinReach(page, "what a policy would change");
    await picture(page, `journey-policy-preview-${width}`);
    await page.emulateMedia({ colorScheme: "dark", reducedMotion: "reduce" });
    await picture(page, `journey-policy-preview-${width}-dark`);
    await page.emulateMedia({ colorScheme: "light", reducedMotion: "reduce" });

    await page.goto(at(`athletes/${bruno}/exceptions`));
    await page.getByLabel("Number").selectOption("gap_days");
    await page.getByLabel("Their value").fill("2");
    await page.getByLabel("Reason").fill("Loses the thread quickly.");
    await page.getByRole("button", { name: "See what would change" }).click();
    await page.getByRole("button", { name: "Make the exception" }).waitFor();
    await isWithinReach(page, "what an exception would change");
    await picture(page, `journey-exception-preview-${width}`);
    if (save) {
      await page.getByRole("button", { name: "Make the exception" }).click();
      await page.getByRole("link", { name: /^End/ }).waitFor();
      await isWithinReach(page, "an exception");
      await picture(page, "journey-exception-360");
      await page.setViewportSize({ width: 1280, height: 800 });
      await picture(page, "journey-exception-1280");
      await page.getByRole("link", { name: /^End/ }).click();
      await page.getByRole("heading", { name: "End an exception" }).waitFor();
      await isWithinReach(page, "ending an exception");

      await page.goto(at("policy"));
      await page.getByLabel("Largest step", { exact: true }).fill("25");
      await page.getByLabel("Reason for the change").fill("Smaller steps.");
      await page.getByRole("button", { name: "See what would change" }).click();
      await page.getByRole("button", { name: "Save this policy" }).click();
      await page.waitForURL((url) => url.search.includes("done=policy-changed"));
      await page.goto(at("policy/history"));
      await isWithinReach(page, "the history of the policy");
      await picture(page, "journey-policy-history");
    }
    hold(wrong.length === 0, wrong.join("\n"));
    await context.close();
  }
});
