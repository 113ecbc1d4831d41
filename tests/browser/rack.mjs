// The rack: a ladder whose labels never touch, names on focus, a swing test timed by keyboard, by pointer and without
// signal, an inspection and a club out of use written down by keyboard alone and without script.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const coach = process.env.LEVERBOOK_TEST_COACH;
const club = process.env.LEVERBOOK_TEST_CLUB;
const RUN = 1638.2 * 20;

/** Labels of the ladder that lie over each other, or beyond its edge. */
const crowded = (page) =>
  page.evaluate(() => {
    const ladder = document.querySelector("svg.ladder").getBoundingClientRect();
    const texts = [...document.querySelectorAll("svg.ladder text:not(.names)")];
    const boxes = texts.map((text) => ({ words: text.textContent, ...text.getBoundingClientRect().toJSON() }));
    const over = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 4 && b.top < a.bottom - 4;
    const wrong = boxes
      .flatMap((a, nth) => boxes.slice(nth + 1).map((b) => [a, b]))
      .filter(([a, b]) => over(a, b))
      .map(([a, b]) => `“${a.words}” over “${b.words}”`);
    return wrong.concat(boxes.filter((box) => box.right > ladder.right + 1 || box.left < ladder.left - 1).map((box) => `“${box.words}” beyond the edge`));
  });

await withBrowser(async (browser) => {
  const { context, page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, coach);
  await page.goto(at("rack"));
  for (const width of [360, 768, 1280]) {
    await page.setViewportSize({ width, height: 800 });
    await fits(page, `the rack at ${width} px`);
    const found = await crowded(page);
    hold(found.length === 0, `the ladder at ${width} px: ${found.join("; ")}`);
    for (const colorScheme of ["dark", "light"]) {
      await page.emulateMedia({ colorScheme });
      await picture(page, `rack-${width}-${colorScheme}`);
      await page.locator("figure.chart").first().screenshot({ path: `${process.env.LEVERBOOK_TEST_PICTURES}/rack-ladder-${width}-${colorScheme}.png` });
    }
  }
  await isWithinReach(page, "the rack");

  // Who stands at a rung: by keyboard and by pointer.
  const ring = page.locator(".ladder .stand").first();
  const names = ring.locator(".names").first();
  hold(!(await names.isVisible()), "names stand there unasked");
  await ring.focus();
  hold(await names.isVisible(), "focus shows no names");
  await picture(page, "rack-names");
  await ring.blur();
  await ring.locator(".many").hover();
  hold(await names.isVisible(), "pointing shows no names");
  await page.getByLabel("Hands").selectOption("one");
  await page.getByRole("button", { name: "Show" }).click();
  await page.waitForURL(/hands=one/);

  // The stopwatch, with the clock moved: a uniform rod of 1 m hung by its end swings in 1.6382 s (OpenStax University
  // Physics vol. 1 § 15.4).
  await page.clock.install();
  await page.goto(at("rack/clubs/new"));
  await page.getByLabel("Name", { exact: true }).fill("Timed rod");
  await page.getByLabel("How many of the same").fill("1");
  for (const [id, value] of [["mass", "6"], ["length", "1000"], ["balance", "500"], ["grip", "100"], ["pivot", "0"]]) {
    await page.locator(`#${id}`).fill(value);
  }
  const face = page.locator("#watch-face");
  const told = page.locator("#watch-told");
  await context.setOffline(true);
  const timed = async (tap, milliseconds) => {
    await tap();
    await page.clock.runFor(milliseconds);
    await tap();
  };
  await face.focus();
  const space = () => page.keyboard.press("Space");
  const enter = () => page.keyboard.press("Enter");
  // Half the swings counted as whole ones: no rod of that length does it.
  await timed(space, RUN / 2);
  hold((await told.innerText()).includes("too quick"), await told.innerText());
  hold((await page.locator("#watch-runs li").count()) === 0, "an impossible run was kept");
  await timed(space, RUN + 50);
  await timed(enter, RUN - 50);
  await page.clock.resume();
  await isWithinReach(page, "the stopwatch with two runs");
  await page.setViewportSize({ width: 360, height: 800 });
  await fits(page, "the stopwatch");
  await page.locator("#watch").screenshot({ path: `${process.env.LEVERBOOK_TEST_PICTURES}/rack-watch-360.png` });
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.clock.pauseAt(Date.now() + 3600e3);
  await page.getByLabel("Tap each time it comes back").check();
  for (let tap = 0; tap <= 20; tap += 1) {
    await face.dispatchEvent("pointerdown", { isPrimary: true, button: 0, pointerType: "touch" });
    if (tap < 20) await page.clock.runFor(1638);
  }
  await page.clock.resume();
  hold((await face.innerText()).includes("Three runs done"), `${await face.innerText()}: ${await told.innerText()}`);
  const filled = Number(await page.locator("#swings_time").inputValue());
  hold(Math.abs(filled - RUN / 1000) < 0.3, `the mean was filled in as ${filled}`);
  hold((await page.locator("#swings_time_off").inputValue()) === "0.20", "the ± is the hand’s own");
  hold((await page.locator("#watch-mean").innerText()).includes("Mean of 3"), "three runs have a mean");
  await page.getByRole("button", { name: "Leave out run 2" }).click();
  hold((await page.locator("#watch-runs li").count()) === 2, "a run can be left out");
  await context.setOffline(false);
  await picture(page, "rack-watch");
  await page.getByRole("button", { name: "Add the club" }).click();
  await page.waitForURL(/done=club-added/);

  // An inspection, by keyboard alone.
  await page.goto(at(`rack/clubs/${club}/inspections`));
  await isWithinReach(page, "inspections");
  await picture(page, "rack-inspections");
  await page.getByLabel("Inspected on").focus();
  const onto = async (locator) => {
    for (let presses = 0; presses < 12; presses += 1) {
      if (await locator.evaluate((element) => element === document.activeElement)) return;
      await page.keyboard.press("Tab");
    }
    throw new Error(`the keyboard does not reach ${locator}`);
  };
  await onto(page.getByLabel("Write it down").or(page.getByRole("button", { name: "Write it down" })));
  await page.keyboard.press("Enter");
  await page.locator("#found-error").waitFor();
  await isWithinReach(page, "an inspection without a finding");
  await page.getByLabel("Inspected on").focus();
  await onto(page.getByRole("radio", { name: "In order" }));
  await page.keyboard.press("Space");
  await onto(page.getByRole("button", { name: "Write it down" }));
  await page.keyboard.press("Enter");
  await page.waitForURL(/done=inspected/);

  // The same and a club put out of use, without script, on a phone.
  const plain = await openWindow(browser, { javaScriptEnabled: false, viewport: { width: 360, height: 800 } });
  await signIn(plain.page, coach);
  await plain.page.goto(at("rack/clubs/new"));
  hold(!(await plain.page.locator("#watch").isVisible()), "a stopwatch without script");
  hold(await plain.page.getByText("By hand, with any watch").isVisible(), "nothing says how to time by hand");
  await plain.page.goto(at(`rack/clubs/${club}/inspections`));
  await plain.page.getByRole("radio", { name: "In order" }).check();
  await plain.page.getByRole("button", { name: "Write it down" }).click();
  await plain.page.waitForURL(/done=inspected/);
  await plain.page.goto(at(`rack/clubs/${club}/use`));
  await picture(plain.page, "rack-use-360");
  await plain.page.getByRole("radio", { name: "Out of use" }).check();
  await plain.page.getByLabel("Why it is out").selectOption({ label: "lent" });
  await plain.page.getByRole("button", { name: "Write it down" }).click();
  await plain.page.waitForURL(/done=use-changed/);
  await plain.page.goto(at("rack"));
  hold((await plain.page.locator("main").innerText()).includes("lent"), "the rack does not say what is out of use");
  await picture(plain.page, "rack-out-360");
  await page.goto(at(`rack/clubs/${club}`));
  await isWithinReach(page, "a club out of use");
  await picture(page, "rack-club-out");
  hold(wrong.length === 0, wrong.join("\n"));
});
