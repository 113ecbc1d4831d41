// Sixty athletes in one look: the head and the names stay in view, nothing scrolls the page sideways, and
// it is within reach of everybody, on a phone and at a desk, light and dark.

import { at, fits, hold, openWindow, pictures, signIn, violations, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  for (const width of [360, 768, 1280]) {
    const { context, page, wrong } = await openWindow(browser, { viewport: { width, height: 900 } });
    await signIn(page, process.env.LEVERBOOK_TEST_COACH);
    await page.goto(at("assign"));
    await page.getByRole("button", { name: /^Tick all/ }).click();
    await page.getByLabel("Starts on").fill("2026-11-30");
    await page.getByLabel("Club", { exact: true }).selectOption({ index: 3 });
    await page.getByRole("button", { name: "Look at every session" }).click();
    await page.getByRole("heading", { name: "Look before you assign" }).waitFor();
    hold((await page.locator(".plan-grid tbody").count()) >= 60, "not sixty rows");
    await fits(page, `sixty at ${width} px`);
    for (const colorScheme of ["dark", "light"]) {
      await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      if (width !== 768) {
        const found = await violations(page);
        hold(found.length === 0, `sixty at ${width} px, ${colorScheme}:\n${found.join("\n")}`);
      }
      await page.screenshot({ path: `${pictures}/journey-assign-sixty-${width}-${colorScheme}.png` });
      await page.locator(".plan-grid").scrollIntoViewIfNeeded();
      await page.locator(".plan-grid tbody").nth(1).scrollIntoViewIfNeeded();
      await page.screenshot({ path: `${pictures}/journey-assign-sixty-rows-${width}-${colorScheme}.png` });
    }
    if (width > 700) {
      // Down and to the right inside the table: the week's head and the athlete's name are still there.
      const scroll = page.locator(".plan-scroll");
      await scroll.evaluate((region) => region.scrollTo(region.scrollWidth, region.scrollHeight / 2));
      const frame = await scroll.boundingBox();
      const head = await page.locator(".plan-grid thead th").last().boundingBox();
      hold(Math.abs(head.y - frame.y) < 4, `the head stands at ${head.y}, its table at ${frame.y}`);
      const name = await page.locator(".plan-grid tbody .who").nth(30).boundingBox();
      hold(Math.abs(name.x - frame.x) < 4, `names stand at ${name.x}, their table at ${frame.x}`);
      await page.screenshot({ path: `${pictures}/journey-assign-sixty-scrolled-${width}.png` });
    }
    hold(wrong.length === 0, wrong.join("\n"));
    await context.close();
  }
});
