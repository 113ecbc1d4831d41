// The server is upgraded while a phone is without signal and in the middle of something: the page
// that is open goes on, what waits arrives, and the pages of the new release take the place of the
// old ones, with their files, when all of these are there.

import { at, hold, withBrowser } from "./browser.mjs";
import { carried, forwarder, keep, lineSays, openPhone, signInOnPhone, until } from "./phones.mjs";

const releases = (page) =>
  page.evaluate(async () => {
    const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
    const { outbox } = globalThis.leverbook;
    const cache = await caches.open(outbox.pagesOf(meta("account")));
    const found = new Set();
    for (const request of await cache.keys()) {
      const text = await (await cache.match(request)).text();
      for (const [, release] of text.matchAll(/\/static\/([^/"]+)\//g)) found.add(release);
    }
    const files = (await caches.keys()).filter((name) => name.startsWith("leverbook-files-"));
    return { pages: [...found], files: files.map((name) => name.replace("leverbook-files-", "")) };
  });

await withBrowser(async (browser) => {
  const { page, nothingWrong, loseSignal, findSignal } = await openPhone(browser);
  await signInOnPhone(page, process.env.LEVERBOOK_TEST_ATHLETE);
  const before = await releases(page);
  hold(before.pages.length === 1 && before.files.length === 1, JSON.stringify(before));

  // Something is under way on the page, and it is not to be interrupted.
  await page.evaluate(() => {
    globalThis.underWay = "still here";
  });
  await loseSignal();
  await keep(page, { note: "kept under the old release" });
  await forwarder("upgrade");
  await findSignal();
  await lineSays(page, "All that was to be sent has arrived.");
  await until("the new release's pages are kept, and only its files", async () => {
    const now = await releases(page);
    const done = now.pages.length === 1 && now.pages[0] !== before.pages[0] && now.files.length === 1;
    if (done) return true;
    // What the change of workers interrupted is done again as the page is looked at.
    await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
    await page.waitForTimeout(1000);
    return now;
  }, 90);
  hold((await page.evaluate(() => globalThis.underWay)) === "still here", "the page was loaded anew");

  // Without signal, the new release opens whole.
  await loseSignal();
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: "Arrived" }).waitFor();
  const [release] = (await releases(page)).pages;
  hold(page.url().endsWith("/phone") && release !== before.pages[0], "the old release is shown");
  const styled = await page.evaluate(() => getComputedStyle(document.querySelector(".masthead")).borderBottomStyle);
  hold(styled === "double", "the new release's styles are not there");
  await findSignal();
  await carried(page);
  nothingWrong();
});
