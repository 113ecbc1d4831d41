// Every page as every role: axe finds nothing, light and dark; nothing scrolls sideways at 360 px;
// on request, a picture of each at 360, 768 and 1280 px.

import { base, fits, hold, openWindow, picture, signIn, violations, withBrowser } from "./browser.mjs";

/** Pictures of every page take a minute: LEVERBOOK_PICTURES=1 keeps them in target/pictures. */
const keepPictures = Boolean(process.env.LEVERBOOK_PICTURES);

/** [{ who: email or null, name, path }], made by the test from the table of routes. */
const pages = JSON.parse(process.env.LEVERBOOK_TEST_PAGES);
const people = [...new Set(pages.map((page) => page.who))];
const found = [];

await withBrowser(async (browser) => {
  for (const who of people) {
    for (const colorScheme of ["light", "dark"]) {
      const { context, page, wrong } = await openWindow(browser, {
        colorScheme,
        reducedMotion: "reduce",
      });
      if (who) await signIn(page, who);
      for (const { name, path } of pages.filter((page) => page.who === who)) {
        await page.setViewportSize({ width: 360, height: 800 });
        const answer = await page.goto(base + path);
        for (const width of [360, 768, 1280]) {
          await page.setViewportSize({ width, height: 800 });
          const where = `${path} (${who ?? "signed out"}, ${colorScheme}, ${width} px)`;
          hold(answer.status() < 400, `${where} answered ${answer.status()}`);
          try {
            await fits(page, where);
          } catch (error) {
            found.push(error.message);
          }
          if (keepPictures) await picture(page, `${name}-${width}-${colorScheme}`);
          // The layout differs between a phone and a desk, so both are read.
          if (width !== 768) {
            found.push(...(await violations(page)).map((sentence) => `${where}: ${sentence}`));
          }
        }
      }
      found.push(...wrong.map((sentence) => `${who ?? "signed out"}, ${colorScheme}: ${sentence}`));
      await context.close();
    }
  }
});

if (found.length > 0) {
  console.error([...new Set(found)].join("\n"));
  process.exit(1);
}
console.log(`${pages.length} pages looked at`);
