// An athlete logs today's session on a 360 px phone, corrects it, and finds it in the list.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

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
  await page.getByRole("link", { name: "Already done? Log it" }).tap();
  await page.waitForURL((url) => url.pathname.endsWith("/log/new"));
  await fits(page, "the log form");
  const counts = page.getByLabel(/^Set \d+, count$/);
  await counts.first().waitFor();
  const sets = await counts.count();
  hold(sets === 10, `five sets a side are ten rows, not ${sets}`);
  for (let set = 0; set < sets; set += 1) {
    const box = await counts.nth(set).boundingBox();
    hold(box.height >= 44, `a count is ${box.height} px high: too small for a thumb`);
    await counts.nth(set).fill(String(15 + (set % 2)));
  }
  await page.getByLabel("How hard was the whole session?").selectOption("6");
  await page.getByLabel(/^Minutes/).fill("half an hour");
  await page.getByLabel("Note").fill("Quiet elbows. 🏋");
  await picture(page, "journey-log-filled");
  const save = page.getByRole("button", { name: "Save", exact: true }).last();
  await save.tap();

  // Minutes are a number: the form comes back with all that was typed.
  await page.locator("#minutes[aria-invalid]").waitFor();
  await isWithinReach(page, "the log form with an error");
  hold((await counts.nth(1).inputValue()) === "16", "a count was lost");
  hold((await page.getByLabel("Note").inputValue()) === "Quiet elbows. 🏋", "the note was lost");
  await page.getByLabel(/^Minutes/).fill("32");

  // The answer gets lost on its way, so the same form is sent once more.
  let lost = 0;
  await page.route("**/log/new", async (route) => {
    if (route.request().method() !== "POST" || lost > 0) return route.continue();
    // What Chromium adds to a form on its way out is not there yet.
    const headers = { ...(await route.request().allHeaders()), "sec-fetch-site": "same-origin" };
    const answer = await route.fetch({ headers, maxRedirects: 0 });
    lost = answer.status();
    return route.abort("aborted");
  });
  await save.tap();
  while (lost === 0) await page.waitForTimeout(20);
  hold(lost === 303, `the first sending was answered with ${lost}`);
  hold(page.url().endsWith("/log/new") || page.url().includes("/log/new?"), page.url());
  await save.tap();
  await page.waitForURL((url) => !url.pathname.endsWith("/log/new"));
  const saved = await page.locator("main").innerText();
  hold(saved.includes("(75 in all)"), `five sets of 15 are not shown: ${saved}`);
  hold(saved.includes("(80 in all)"), `five sets of 16 are not shown: ${saved}`);
  const session = new URL(page.url()).pathname;
  await fits(page, "the logged session");
  await picture(page, "journey-log-saved");

  // Back to the form, and the same once more: it is the session that stands already.
  await page.goBack();
  await page.getByRole("button", { name: "Save", exact: true }).last().waitFor();
  for (let set = 0; set < sets; set += 1) await counts.nth(set).fill(String(15 + (set % 2)));
  await page.getByLabel(/^Minutes/).fill("32");
  await save.tap();
  await page.waitForURL((url) => !url.pathname.endsWith("/log/new"));
  hold(new URL(page.url()).pathname === session, `another session was made: ${page.url()}`);

  // One count was wrong: corrected, the session shows the new one, and the old one behind it.
  await page.getByRole("link", { name: "Change it" }).tap();
  await page.waitForURL((url) => url.pathname.endsWith("/edit"));
  hold((await counts.first().inputValue()) === "15", "the form to change it is not filled in");
  await counts.first().fill("18");
  await page.getByRole("button", { name: "Save", exact: true }).last().tap();
  await page.waitForURL((url) => !url.pathname.endsWith("/edit"));
  const corrected = await page.locator("main").innerText();
  hold(corrected.includes("(78 in all)"), `the corrected count is not shown: ${corrected}`);
  hold(corrected.includes("How it was before"), `the first sending is not kept: ${corrected}`);
  await page.getByText(/^As sent on .* by you$/).tap();
  await page.getByText("(75 in all)").waitFor();
  await isWithinReach(page, "the corrected session");
  await picture(page, "journey-log-corrected");

  await page.goto(at("today"));
  const after = await page.locator("main").innerText();
  hold(after.includes("Logged today"), `today does not show the log: ${after}`);
  await picture(page, "journey-log-after");

  // In the list it stands once, as corrected.
  await page.goto(at("mine"));
  const row = page.getByRole("row").filter({ has: page.locator(`a[href$="${session}"]`) });
  const listed = await row.allInnerTexts();
  hold(listed.length === 1, `it stands ${listed.length} times in the list: ${listed}`);
  hold(/78 left, 80 right|80 left, 78 right/.test(listed[0]), `it is listed as ${listed[0]}`);
  hold(listed[0].includes("changed"), `the list does not say that it was changed: ${listed[0]}`);
  await fits(page, "the list of sessions");
  hold(wrong.length === 0, wrong.join("\n"));
});
