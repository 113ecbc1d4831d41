// The coach opens the week, finds the flag, reads why, decides and writes a note; by keyboard where
// a keyboard does it.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("review?week=2026-W47"));
  const first = page.getByRole("article").first();
  hold(
    (await first.innerText()).includes("Edvard Locke"),
    "whoever hurts must stand first in the week",
  );
  const line = page.getByRole("article", { name: "Kaveh Rushton" });
  const text = await line.innerText();
  hold(text.includes("T5"), `no plateau in ${text}`);
  await line.getByText("Why, and where the work stands").click();
  await picture(page, "journey-review-open");
  await line.getByText("Change it, or write a note").click();
  await line.getByLabel("Instead").selectOption({ label: "Step back a club" });
  await line.getByRole("button", { name: "Change", exact: true }).click();
  // Without a reason it comes back, with what was chosen.
  const again = page.getByRole("article", { name: "Kaveh Rushton" });
  hold((await again.innerText()).includes("say why"), "a change without a reason was taken");
  hold((await again.getByLabel("Instead").inputValue()) === "step_back", "the choice was lost");
  await isWithinReach(page, "the week with a decision that came back");
  await again.getByLabel("Why").fill("The count has been flat since September.");
  await again.getByLabel(/Note to/).fill("Two lighter weeks, then we look again.");
  await again.getByLabel(/Note to/).press("Tab");
  await page.keyboard.press("Enter");
  await page.getByText("Changed: step back a club").waitFor();
  const decided = await page.getByRole("article", { name: "Kaveh Rushton" }).innerText();
  hold(decided.includes("flat since September"), "the reason is not shown");
  await picture(page, "journey-review-decided");
  hold(wrong.length === 0, wrong.join("\n"));
});
