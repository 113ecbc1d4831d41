// A gym without TLS, in its own network: browsers say less about where a form came from there, and
// the forms must be taken all the same.

import { at, base, hold, openWindow, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser);
  let told;
  page.on("request", async (request) => {
    if (request.method() === "POST") told = await request.allHeaders();
  });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  hold(!(await page.evaluate(() => isSecureContext)), `${base} counts as a safe place`);
  hold(told.origin === base, `the form came from ${told.origin}`);
  hold(!("sec-fetch-site" in told), "the browser told the site; then this journey tries nothing");
  await page.goto(at("review"));
  hold(page.url().includes("/review"), `not signed in: ${page.url()}`);
  // That a header only works under TLS is told on the console.
  const rest = wrong.filter((line) => !line.includes("Cross-Origin-Opener-Policy"));
  hold(rest.length === 0, rest.join("\n"));
});
