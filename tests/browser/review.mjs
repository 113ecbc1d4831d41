// By mouse: the coach opens the week, finds the flag, reads why, decides and writes a note, accepts the
// steady ones together, takes that back, closes the week and reads what came of it.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("review?week=2026-W47"));
  let loads = 0;
  page.on("request", (request) => {
    if (request.isNavigationRequest()) loads += 1;
  });
  const said = page.locator("#week-said");
  const first = page.getByRole("article").first();
  hold(
    (await first.innerText()).includes("Edvard Locke"),
    "whoever hurts must stand first in the week",
  );
  const line = page.getByRole("article", { name: "Kaveh Rushton" });
  const text = await line.innerText();
  hold(text.includes("T5"), `no plateau in ${text}`);
  await line.getByText("Why, and where the work stands").click();
  hold((await line.innerText()).includes("Sessions since the best"), "the figures do not open in place");
  await line.getByText(/^Last week:/).click();
  await picture(page, "journey-review-open");
  await isWithinReach(page, "the week with an opened athlete");
  await line.getByText("Change it, or write a note").click();
  await line.getByLabel("Instead").selectOption({ label: "Step back a club" });
  await line.getByRole("button", { name: "Change", exact: true }).click();
  // Without a reason it comes back, with what was chosen.
  await line.getByRole("alert").waitFor();
  hold((await line.innerText()).includes("say why"), "a change without a reason was taken");
  hold((await line.getByLabel("Instead").inputValue()) === "step_back", "the choice was lost");
  hold(
    await line.getByLabel(/^Why/).evaluate((field) => field === document.activeElement),
    "the field that lacks something has no focus",
  );
  await picture(page, "journey-review-refused");
  await isWithinReach(page, "the week with a decision that came back");
  await line.getByLabel(/^Why/).fill("The count has been flat since September.");
  await line.getByLabel(/Note to/).fill("Two lighter weeks, then we look again.");
  await line.getByRole("button", { name: "Change", exact: true }).click();
  await line.getByText("Changed: step back a club").waitFor();
  const decided = await line.innerText();
  hold(decided.includes("flat since September"), "the reason is not shown");
  await said.getByText(/^Kaveh Rushton: Changed: step back a club\./).waitFor();
  await picture(page, "journey-review-decided");

  // The steady ones in one go, and back.
  const steady = page.getByRole("button", { name: "Accept all of these as proposed" });
  await steady.click();
  await said.getByText("Accepted as proposed, all of them.").waitFor();
  await page.getByRole("button", { name: /^Take back all/ }).click();
  await said.getByText("Taken back, all of them.").waitFor();
  hold(await steady.isVisible(), "what was taken back can be accepted again");

  await page.getByRole("button", { name: "Close this week" }).click();
  await page.getByRole("heading", { name: /^You closed this week/ }).waitFor();
  const summary = await page.locator(".week-summary").innerText();
  hold(/0 accepted, 1 changed, 0 held/.test(summary), summary);
  hold(summary.includes("Edvard Locke"), "who waits is not told");
  await isWithinReach(page, "the closed week");
  await picture(page, "journey-review-closed");
  hold(loads === 0, `${loads} page loads`);

  // On paper: a few lines an athlete, nothing that is folded.
  await page.getByRole("button", { name: "Open it again" }).click();
  await said.getByText("The week is open again.").waitFor();
  await page.emulateMedia({ media: "print" });
  hold(!(await page.getByText("Change it, or write a note").first().isVisible()), "forms on paper");
  hold(!(await page.getByText("Sessions since the best").first().isVisible()), "folded text on paper");
  const lineHeight = await first.evaluate((article) => article.getBoundingClientRect().height);
  hold(lineHeight < 200, `an athlete takes ${lineHeight} px of paper`);
  await picture(page, "journey-review-print");
  await page.emulateMedia({ media: "screen", colorScheme: "light" });
  await page.setViewportSize({ width: 360, height: 800 });
  await fits(page, "the week at 360 px");
  await picture(page, "journey-review-360");
  hold(wrong.length === 0, wrong.join("\n"));
});
