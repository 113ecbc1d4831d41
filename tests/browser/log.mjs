// An athlete logs today's session on a 360 px phone, corrects it, and finds it in the list.

import { at, fits, hold, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, {
    viewport: { width: 360, height: 740 },
    deviceScaleFactor: 2,
    isMobile: true,
    hasTouch: true,
  });
  await signIn(page, process.env.LEVERBOOK_TEST_ATHLETE);
  await page.goto(at("today"));
  await fits(page, "today");
  const today = await page.locator("main").innerText();
  hold(today.includes("Oak 6"), `no club on today's page: ${today}`);
  await picture(page, "journey-log-today");
  await page.getByRole("link", { name: "Log this session" }).tap();
  await page.waitForURL((url) => url.pathname.endsWith("/log/new"));
  await fits(page, "the log form");
  const counts = page.getByLabel(/^Set \d+, count$/);
  await counts.first().waitFor();
  const sets = await counts.count();
  hold(sets === 10, `five sets a side are ten rows, not ${sets}`);
  for (let at = 0; at < sets; at += 1) {
    const box = await counts.nth(at).boundingBox();
    hold(box.height >= 44, `a count is ${box.height} px high: too small for a thumb`);
    await counts.nth(at).fill(String(15 + (at % 2)));
  }
  await page.getByLabel("How hard was the whole session?").selectOption("6");
  await page.getByLabel(/^Minutes/).fill("32");
  await page.getByLabel("Note").fill("Quiet elbows. 🏋");
  await picture(page, "journey-log-filled");
  await page.getByRole("button", { name: "Save", exact: true }).last().tap();
  await page.waitForURL((url) => !url.pathname.endsWith("/log/new"));
  const saved = await page.locator("main").innerText();
  hold(saved.includes("155") || saved.includes("75"), `the counts are not shown: ${saved}`);
  await fits(page, "the logged session");
  await picture(page, "journey-log-saved");

  // Going back and sending the same form once more stores nothing twice.
  await page.goto(at("today"));
  const after = await page.locator("main").innerText();
  hold(after.includes("Logged today"), `today does not show the log: ${after}`);
  await picture(page, "journey-log-after");
  hold(wrong.length === 0, wrong.join("\n"));
});
