// Without script: the same forms, with a page load each.

import { at, hold, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, {
    viewport: { width: 1280, height: 900 },
    javaScriptEnabled: false,
  });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("review?week=2026-W47"));
  hold(!(await page.getByText("Single keys work on this page").isVisible()), "keys without script");
  const line = (name) => page.getByRole("article", { name });
  await line("Ada Arden").getByRole("button", { name: "Accept", exact: true }).click();
  hold((await line("Ada Arden").innerText()).includes("Accepted as proposed"), "not accepted");
  // Enter in the line that says why is the change, and nothing else.
  await line("Fenn Arden").getByText("Change it, or write a note").click();
  await line("Fenn Arden").getByLabel("Instead").selectOption({ label: "Step back a club" });
  await line("Fenn Arden").getByLabel(/^Why/).press("Enter");
  hold((await line("Fenn Arden").innerText()).includes("say why"), "taken without a reason");
  hold(
    (await line("Fenn Arden").getByLabel("Instead").inputValue()) === "step_back",
    "the choice is lost",
  );
  await line("Fenn Arden").getByLabel(/^Why/).fill("A jump.");
  await line("Fenn Arden").getByLabel(/^Why/).press("Enter");
  hold((await line("Fenn Arden").innerText()).includes("Changed: step back a club"), "not changed");
  await line("Fenn Arden").getByRole("button", { name: "Take it back" }).click();
  hold((await line("Fenn Arden").innerText()).includes("Taken back, by Runa Averill"), "no history");
  await page.getByRole("button", { name: "Accept all of these as proposed" }).click();
  hold((await page.locator("main").innerText()).includes("you accepted 40 together"), "not accepted");
  await page.getByRole("button", { name: "Take back all 40" }).click();
  hold(await page.getByRole("button", { name: "Accept all of these as proposed" }).isVisible(), "no way back");
  await page.getByRole("button", { name: "Close this week" }).click();
  hold((await page.locator(".week-summary").innerText()).includes("1 of 60: 1 accepted"), "no summary");
  await picture(page, "plain-closed");
  await page.getByRole("button", { name: "Open it again" }).click();
  hold(await page.getByRole("button", { name: "Close this week" }).isVisible(), "not open again");
  hold(wrong.length === 0, wrong.join("\n"));
});
