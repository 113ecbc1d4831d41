// One's own progress in every state that an athlete can be in: axe finds nothing, light and dark;
// nothing scrolls sideways on a phone; every chart has a title, a gist and a table that a keyboard opens.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

/** [{ state, email, charts: number, says: [sentence] }], made by the test. */
const states = JSON.parse(process.env.LEVERBOOK_TEST_STATES);
const keepPictures = Boolean(process.env.LEVERBOOK_PICTURES);

await withBrowser(async (browser) => {
  for (const { state, email, charts, says } of states) {
    const { context, page, wrong } = await openWindow(browser);
    await signIn(page, email);
    for (const width of [360, 768, 1280]) {
      await page.setViewportSize({ width, height: 800 });
      await page.goto(at("mine"));
      await fits(page, `${state}, ${width} px`);
      if (keepPictures) {
        for (const colorScheme of ["dark", "light"]) {
          await page.emulateMedia({ colorScheme });
          await picture(page, `mine-${state}-${width}-${colorScheme}`);
        }
      }
    }
    const text = await page.locator("main").innerText();
    for (const sentence of says) hold(text.includes(sentence), `${state}: no “${sentence}” in ${text.slice(0, 1500)}`);
    const drawn = page.locator("figure.chart");
    hold((await drawn.count()) === charts, `${state}: ${await drawn.count()} charts, not ${charts}`);
    for (const chart of await drawn.all()) {
      const image = chart.locator("svg[role=img]");
      const [name, gist] = await image.evaluate((svg) =>
        ["title", "desc"].map((part) => svg.querySelector(`:scope > ${part}`).textContent.trim()),
      );
      hold(name.length > 5 && gist.length > 10, `${state}: a chart without words`);
      const figures = chart.getByText("The figures in a table");
      await figures.focus();
      await page.keyboard.press("Enter");
      hold(await chart.getByRole("table").isVisible(), `${state}: ${name} has no table`);
    }
    // All else that is folded is read with it.
    await page.locator("main details").evaluateAll((all) => all.forEach((details) => (details.open = true)));
    await page.setViewportSize({ width: 360, height: 800 });
    await fits(page, `${state}, with its tables`);
    // Closed, the page is read with every other one.
    await isWithinReach(page, `${state}, with its tables`);
    hold(wrong.length === 0, `${state}: ${wrong.join("\n")}`);
    await context.close();
  }
});
