// Browsers without a service worker, and a gym's own network without TLS, where browsers give none:
// nothing breaks, and what is kept while the server is away is sent when it is back.

import { at, base, hold, signIn, withBrowser } from "./browser.mjs";
import { forwarder, keep, lineSays, openPhone, states, until } from "./phones.mjs";

await withBrowser(async (browser) => {
  const { page, nothingWrong } = await openPhone(browser, { serviceWorkers: "block" });
  await signIn(page, process.env.LEVERBOOK_TEST_ATHLETE);
  await page.goto(at("today"));
  const safe = await page.evaluate(() => isSecureContext);
  hold(safe === base.includes("127.0.0.1"), `${base} counts as ${safe ? "safe" : "unsafe"}`);
  await until("the book is carried", () =>
    page.evaluate(async () => {
      const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
      return (await leverbook.outbox.open({ account: meta("account"), gym: meta("gym") }).carried()) !== null;
    }),
  );
  await forwarder("away");
  await keep(page, { planned: false, note: safe ? "without a worker" : "without TLS" });
  await lineSays(page, "No signal. 1 session waits on this phone.");
  await forwarder("back");
  await page.reload();
  await until("it has arrived", async () => (await states(page)).startsWith("arrived"));
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: "Arrived" }).waitFor();
  nothingWrong();
});
