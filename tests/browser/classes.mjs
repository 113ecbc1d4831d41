// A coach makes a class, by mouse, by keyboard alone, or in a browser without script; says who comes and
// with what; makes the plan, holds somebody to be first, and has it ready for the wall.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const coach = process.env.LEVERBOOK_TEST_COACH;
const members = ["Abena Thorsley", "Bruno Ashgrove", "Greta Lindqvist-Moor", "Imani Calder", "Elske Brandt"];

/** Both schemes at a phone's width and at a desk's. */
async function pictures(page, name) {
  for (const width of [360, 1280]) {
    await page.setViewportSize({ width, height: 800 });
    await fits(page, `${name} at ${width}`);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      if (process.env.LEVERBOOK_PICTURES) await picture(page, `journey-class-${name}-${width}-${colorScheme}`);
    }
  }
  await page.emulateMedia({ colorScheme: "light", reducedMotion: "reduce" });
}

/** The class as the wall shows it: who is in each rotation. */
const wall = (page) =>
  page.locator(".rotation").evaluateAll((tables) =>
    tables.map((table) => [...table.querySelectorAll("tbody th")].map((who) => who.textContent)),
  );

/** The selects of somebody in the form. */
const clubFor = (page, name) => page.getByLabel(`Club for ${name}`, { exact: true });

async function byMouse(browser) {
  const { context, page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, coach);
  await page.getByRole("link", { name: "Classes", exact: true }).click();
  await page.getByRole("link", { name: "Add a class" }).click();
  await page.getByLabel("Name").fill("Evening class");
  await page.getByLabel("Day of the week").selectOption({ label: "Wednesday" });
  await page.getByLabel("Starts at").fill("18:30");
  await page.getByLabel("Lasts").fill("an hour");
  await page.getByLabel("How many swing at once").fill("4");
  for (const name of members) await page.getByRole("checkbox", { name }).check();
  await page.getByRole("button", { name: "Add the class" }).click();
  await page.locator("#minutes[aria-invalid]").waitFor();
  await isWithinReach(page, "a class with an error");
  for (const name of members) hold(await page.getByRole("checkbox", { name }).isChecked(), `${name} was lost`);
  await pictures(page, "wrong");
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.getByLabel("Lasts").fill("60");
  await page.getByRole("button", { name: "Add the class" }).click();
  await page.waitForURL((url) => url.search.includes("done=saved"));
  await pictures(page, "list");
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.getByRole("link", { name: /^Plan Wed 25 Nov 2026/ }).click();

  // Only Bruno has a session today; the others are given a club, or stay away.
  hold(await page.getByRole("checkbox", { name: "Bruno Ashgrove", exact: true }).isChecked(), "Bruno is not expected");
  for (const name of ["Greta Lindqvist-Moor", "Imani Calder", "Elske Brandt"]) {
    await page.getByRole("checkbox", { name, exact: true }).check();
  }
  await clubFor(page, "Greta Lindqvist-Moor").selectOption({ label: "Tallow bar, two plates" });
  await clubFor(page, "Imani Calder").selectOption({ label: "Tallow bar, two plates" });
  await page.getByRole("button", { name: "Make the plan" }).click();
  await page.locator(".wrong-list").waitFor();
  await isWithinReach(page, "a class plan with an error");
  await pictures(page, "plan-wrong");
  await page.setViewportSize({ width: 1280, height: 900 });
  hold((await page.locator(".wrong-list").innerText()).includes("Elske Brandt"), "it is not said whose club is missing");
  await clubFor(page, "Elske Brandt").selectOption({ label: "Oak 6" });
  await page.getByRole("button", { name: "Make the plan" }).click();
  await page.locator(".wall").waitFor();
  const first = await wall(page);
  hold(first.length === 2, `one bar for two takes two rotations: ${JSON.stringify(first)}`);
  const text = await page.locator("main").innerText();
  hold(text.includes("One more Tallow bar, two plates would help most: 1 rotation instead of 2."), text);
  hold(text.includes("Inspect collars and fasteners first: Tallow bar, two plates."), text);
  await isWithinReach(page, "a class plan");
  await pictures(page, "plan");

  // For the wall: the plan alone, in letters that are read from three metres.
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ media: "print" });
  const seen = (selector) => page.locator(selector).first().isVisible();
  hold(await seen(".rotation"), "the plan is not printed");
  for (const other of [".class-form", ".masthead nav", ".pager", ".page > .notice", "#short"]) {
    hold(!(await seen(other)), `${other} is printed beside the plan`);
  }
  const points = await page
    .locator(".rotation td")
    .first()
    .evaluate((cell) => (parseFloat(getComputedStyle(cell).fontSize) * 72) / 96);
  hold(points >= 30, `${points} points are too small for the wall`);
  // A4 between margins of a centimetre.
  await page.setViewportSize({ width: 718, height: 1046 });
  await fits(page, "the wall");
  if (process.env.LEVERBOOK_PICTURES) await picture(page, "journey-class-wall");
  await page.emulateMedia({ media: "screen" });
  hold(wrong.length === 0, wrong.join("\n"));
  await context.close();
  return first;
}

/** Moves the focus with Tab alone until it is on something, and says so if it never is. */
async function tabTo(page, what, matches) {
  for (let step = 0; step < 400; step++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(matches.test, matches.argument)) return;
  }
  throw new Error(`Tab never reached ${what}`);
}

const named = (text) => ({
  argument: text,
  test: (text) => {
    const at = document.activeElement;
    const label = at.labels?.[0]?.textContent ?? at.textContent ?? "";
    return label.replace(/\s+/g, " ").trim().startsWith(text);
  },
});

async function byKeyboard(browser, before) {
  const { context, page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, coach);
  await page.goto(at("classes"));
  await tabTo(page, "the plan", named("Plan Wed 25 Nov 2026"));
  await page.keyboard.press("Enter");
  await page.locator(".wall").waitFor();
  // Whoever has the bar second is held to be first.
  const later = before[1].find((name) => name === "Greta Lindqvist-Moor" || name === "Imani Calder");
  await tabTo(page, "First", named(`First: ${later}`));
  await page.keyboard.press("Space");
  await tabTo(page, "the button", named("Make the plan again"));
  await page.keyboard.press("Enter");
  await page.waitForURL((url) => url.search.includes("done=class-planned"));
  const now = await wall(page);
  hold(now.length === 2 && now[0].includes(later), `${later} is not first: ${JSON.stringify(now)}`);
  hold(wrong.length === 0, wrong.join("\n"));
  await context.close();
  return now;
}

async function withoutScript(browser, before) {
  const { context, page } = await openWindow(browser, { javaScriptEnabled: false, viewport: { width: 360, height: 800 } });
  await signIn(page, coach);
  await page.goto(at("classes"));
  await page.getByRole("link", { name: /^Plan Wed 25 Nov 2026/ }).click();
  // A week later the order is the same, though nothing is planned for most.
  await page.getByRole("link", { name: /^After:/ }).click();
  const form = page.locator(".class-form");
  for (const [name, club] of [["Greta Lindqvist-Moor", "Tallow bar, two plates"], ["Imani Calder", "Tallow bar, two plates"], ["Elske Brandt", "Oak 6"]]) {
    await form.getByRole("checkbox", { name, exact: true }).check();
    await clubFor(page, name).selectOption({ label: club });
  }
  await page.getByRole("button", { name: "Make the plan" }).click();
  await page.waitForURL((url) => url.search.includes("done=class-planned"));
  const names = await page.locator(".rotation").allInnerTexts();
  hold(names.length === before.length, `${names.length} rotations`);
  before.forEach((people, rotation) => {
    for (const name of people) hold(names[rotation].includes(name), `${name} lost their place: ${names.join(" | ")}`);
  });
  await context.close();
}

await withBrowser(async (browser) => {
  const first = await byMouse(browser);
  const second = await byKeyboard(browser, first);
  await withoutScript(browser, second);
});
