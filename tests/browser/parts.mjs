// The page of all parts: looked at by axe in every width and scheme, in the colours that somebody forces, in print,
// and photographed in all of them, always: target/pictures/parts-*.png is what a change of a part is judged by.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, violations, withBrowser } from "./browser.mjs";

/** What tells one severity from another where no colour does: its word, its outline, and that it is drawn. */
const severities = (page) =>
  page.locator("#severities .flag").evaluateAll((flags) =>
    flags.map((flag) => {
      const svg = flag.querySelector("svg");
      const { width, height } = svg.getBoundingClientRect();
      const [fill, ground] = [getComputedStyle(svg).fill, getComputedStyle(flag).backgroundColor];
      return { word: flag.innerText.trim(), shape: svg.innerHTML, drawn: width > 8 && height > 8 && fill !== ground };
    }),
  );

/** Each of the three has its own word and shape. */
async function areTold(page, where) {
  const found = (await severities(page)).slice(0, 3);
  hold(found.map(({ word }) => word).join() === "Stop,Look,Note", `${where}: ${JSON.stringify(found)}`);
  hold(new Set(found.map(({ shape }) => shape)).size === 3, `${where}: two severities have one shape`);
  hold(found.every(({ drawn }) => drawn), `${where}: a shape cannot be seen: ${JSON.stringify(found)}`);
}

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { reducedMotion: "reduce" });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("parts"));
  for (const width of [360, 768, 1280]) {
    await page.setViewportSize({ width, height: 800 });
    await fits(page, `the parts at ${width} px`);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await areTold(page, `${width} px, ${colorScheme}`);
      await picture(page, `parts-${width}-${colorScheme}`);
    }
    if (width !== 768) await isWithinReach(page, `the parts at ${width} px`);
  }

  // Colours that somebody forces: shapes and edges stay.
  await page.emulateMedia({ forcedColors: "active", colorScheme: "dark" });
  await areTold(page, "forced colours");
  // axe reads the colours that a sheet asks for, not those that were forced in their place.
  const found = (await violations(page)).filter((sentence) => !sentence.startsWith("color-contrast"));
  hold(found.length === 0, `forced colours:\n${found.join("\n")}`);
  await picture(page, "parts-1280-forced");
  await page.emulateMedia({ forcedColors: null, colorScheme: "light" });

  // By keyboard: every button and field is reached, and shows that it is.
  const focused = async (locator, name) => {
    await locator.focus();
    await page.keyboard.press("Shift+Tab");
    await page.keyboard.press("Tab");
    const ring = await locator.evaluate((element) => {
      const style = getComputedStyle(element);
      return style.outlineStyle === "solid" && parseFloat(style.outlineWidth) >= 2;
    });
    hold(ring, `${name} does not show that the keyboard is at it`);
    await locator.locator("xpath=ancestor::form").screenshot({ path: `${process.env.LEVERBOOK_TEST_PICTURES}/parts-focus-${name}.png` });
  };
  const buttons = page.locator("section", { has: page.locator("h2#buttons") });
  await focused(buttons.getByRole("button", { name: "Save", exact: true }), "button");
  const first = page.getByRole("form", { name: "At first" });
  await focused(first.getByLabel("Name"), "field");
  // What is wrong is told by an edge too, at every kind of field.
  for (const field of await page.getByRole("form", { name: "Come back" }).locator('[aria-invalid="true"]').all()) {
    const [name, edge] = await field.evaluate((element) => [
      element.id,
      parseFloat(getComputedStyle(element.closest(".field")).borderInlineStartWidth),
    ]);
    hold(edge >= 4, `${name} is wrong, and its edge does not tell`);
  }
  for (const gone of await page.locator("fieldset:disabled button, fieldset:disabled input").all()) {
    hold(await gone.isDisabled(), "what is not to be used now can be used");
  }

  // On paper: no navigation, every detail open, and severities still told.
  await page.emulateMedia({ media: "print" });
  await areTold(page, "print");
  // A printer leaves grounds out unless told otherwise: the word on this one would be white on white.
  const kept = await page.locator(".flag.stop").first().evaluate((flag) => getComputedStyle(flag).printColorAdjust);
  hold(kept === "exact", `the ground of "Stop" is ${kept} on paper`);
  hold(await page.getByText("From the log, by the policy, version 3.").first().isVisible(), "a detail is closed on paper");
  hold(!(await page.getByRole("navigation", { name: "Rooms", exact: true }).isVisible()), "rooms are printed");
  await picture(page, "parts-print");
  hold(wrong.length === 0, wrong.join("\n"));
});
