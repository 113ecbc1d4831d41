// The athlete's pages on a bad line: each opened cold, with everything that it has fetched in the background
// besides, is counted where it passes; nothing asks another host; the book can be installed.

import { readFile, readdir } from "node:fs/promises";
import { parse } from "acorn";
import { openWire } from "./wire.mjs";

/** The folder of what ships, and the one it is made from. */
const { LEVERBOOK_TEST_SHIPPED: shipped, LEVERBOOK_TEST_SOURCE: source } = process.env;
const wire = await openWire(process.env.LEVERBOOK_TEST_URL, shipped);
process.env.LEVERBOOK_TEST_URL = wire.url;
const { at, gym, hold, openWindow, signIn, withBrowser } = await import("./browser.mjs");

/** Of one page: its own, its styles and scripts, its worker and every file that it keeps. */
const PAGE = 60_000;
/**
 * With what is carried for two weeks without signal besides: the book, and the other pages; that of the
 * guided session, which has every word of every stage in it, comes twice where it is opened first.
 */
const WITH_ALL_CARRIED = 82_000;
const PAGES = ["today", "train?free=1", "plan", "mine", "phone"];

/** Whether an answer is the page's own: whatever it is, but no other page of the gym and not the book. */
const isPages = (page) => (answer) =>
  !answer.path.startsWith(`/g/${gym}/`) || answer.path === `/g/${gym}/${page}` || answer.path.endsWith("/manifest.webmanifest");

/** What each file took, the largest first. */
const table = (answers) =>
  [...answers]
    .sort((a, b) => b.bytes - a.bytes)
    .map(({ path, status, bytes }) => `${String(bytes).padStart(8)}  ${status}  ${path}`)
    .join("\n");

/** What a script says, whatever its comments and layout, as acorn reads it. */
async function said(file) {
  const text = await readFile(file, "utf8");
  const sourceType = /^(import|export) /m.test(text) ? "module" : "script";
  const tree = parse(text, { ecmaVersion: "latest", sourceType });
  return JSON.stringify(tree, (name, value) => (["start", "end"].includes(name) ? undefined : value));
}

for (const script of await readdir(`${source}/js`)) {
  const same = (await said(`${source}/js/${script}`)) === (await said(`${shipped}/js/${script}`));
  hold(same, `${script} says something else as shipped`);
}

try {
  await withBrowser(async (browser) => {
    const first = await openWindow(browser);
    await signIn(first.page, process.env.LEVERBOOK_TEST_ATHLETE);
    const { cookies } = await first.context.storageState();
    await first.context.close();
    const heavy = [];
    for (const page of PAGES) {
      // A phone that was never here, but is signed in.
      const phone = await openWindow(browser, {
        viewport: { width: 360, height: 740 },
        storageState: { cookies, origins: [] },
      });
      wire.forget();
      const answer = await phone.page.goto(at(page));
      hold(answer.ok(), `${page} answered ${answer.status()}`);
      const worker = () => navigator.serviceWorker.ready.then(() => true);
      const works = await Promise.race([phone.page.evaluate(worker), phone.page.waitForTimeout(20_000)]);
      hold(works, `${page} has no worker: it would not open without signal`);
      await wire.quiet(1500);
      const answers = wire.answers();
      const sum = (some) => some.reduce((bytes, one) => bytes + one.bytes, 0);
      const [own, carried] = [answers.filter(isPages(page)), answers.filter((one) => !isPages(page)(one))];
      console.log(`${page}: ${sum(own)} bytes, and ${sum(carried)} carried`);
      if (sum(own) > PAGE) heavy.push(`${page} takes ${sum(own)} bytes of ${PAGE}\n${table(own)}`);
      if (sum(answers) > WITH_ALL_CARRIED) {
        heavy.push(`${page} carries ${sum(answers)} bytes of ${WITH_ALL_CARRIED}\n${table(answers)}`);
      }
      const failed = answers.filter((one) => one.status >= 400);
      hold(failed.length === 0, `${page} asks for what is not there:\n${table(failed)}`);
      hold(phone.wrong.length === 0, phone.wrong.join("\n"));
      await isInstallable(phone, page);
      await isOfOneColour(phone.page, page);
      await phone.context.close();
    }
    hold(heavy.length === 0, heavy.join("\n\n"));
  });
} finally {
  wire.close();
}

/** What Chromium itself holds against the manifest, and what an app needs of it. */
async function isInstallable({ context, page }, where) {
  const devtools = await context.newCDPSession(page);
  const { url, errors, data } = await devtools.send("Page.getAppManifest");
  hold(errors.length === 0, `${where}, the manifest: ${JSON.stringify(errors)}`);
  const { installabilityErrors } = await devtools.send("Page.getInstallabilityErrors");
  // Chromium installs nothing in a window that keeps nothing, as a journey's is.
  const held = installabilityErrors.filter(({ errorId }) => errorId !== "in-incognito");
  hold(held.length === 0, `${where} cannot be installed: ${JSON.stringify(held)}`);
  const manifest = JSON.parse(data);
  for (const name of ["id", "name", "short_name", "start_url", "scope", "theme_color", "background_color"]) {
    hold(manifest[name], `${where}, the manifest has no ${name}`);
  }
  hold(manifest.display === "standalone", `${where} would open in ${manifest.display}`);
  for (const [sizes, purpose] of [["192x192", "any"], ["512x512", "any"], ["512x512", "maskable"]]) {
    const icon = manifest.icons.find((one) => one.sizes === sizes && one.purpose.includes(purpose));
    hold(icon?.type === "image/png", `${where}: no ${purpose} icon of ${sizes}`);
    const drawn = await page.evaluate(async (src) => {
      const picture = await createImageBitmap(await (await fetch(src)).blob());
      return `${picture.width}x${picture.height}`;
    }, new URL(icon.src, url).href);
    hold(drawn === sizes, `${icon.src} is ${drawn}`);
  }
  await devtools.detach();
}

/** What the browser paints round an app is the page's own paper, light and dark. */
async function isOfOneColour(page, where) {
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    const [round, paper] = await page.evaluate(() => {
      const metas = [...document.querySelectorAll('meta[name="theme-color"]')];
      const drawn = document.createElement("i");
      drawn.style.setProperty("color", metas.find((meta) => matchMedia(meta.media).matches)?.content ?? "");
      document.body.append(drawn);
      return [getComputedStyle(drawn).color, getComputedStyle(document.body).backgroundColor];
    });
    hold(round === paper, `${where}, ${colorScheme}: ${round} round a page of ${paper}`);
  }
}
