// A phone that several use: signing out asks about what is not sent, and then leaves nothing; who
// signs in next sees nothing of the one before.

import { at, base, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";
import { forwarder, keep, lineSays, openPhone, signInOnPhone, until } from "./phones.mjs";

const athlete = process.env.LEVERBOOK_TEST_ATHLETE;
const second = process.env.LEVERBOOK_TEST_SECOND;

/** All that any page of this phone could read: databases, kept pages, and the page that is shown. */
const everythingOn = (page) =>
  page.evaluate(async () => {
    const found = { databases: {}, caches: {}, page: document.documentElement.outerHTML };
    for (const { name } of await indexedDB.databases()) {
      const db = await idb.openDB(name);
      found.databases[name] = {};
      for (const store of db.objectStoreNames) found.databases[name][store] = await db.getAll(store);
      db.close();
    }
    for (const name of await caches.keys()) {
      const cache = await caches.open(name);
      for (const request of await cache.keys()) {
        found.caches[`${name} ${request.url}`] = await (await cache.match(request)).text();
      }
    }
    return found;
  });

const accountOf = (page) => page.evaluate(() => document.querySelector('meta[name="leverbook-account"]').content);

await withBrowser(async (browser) => {
  const { page, nothingWrong, loseSignal, findSignal } = await openPhone(browser);
  await signInOnPhone(page, athlete);
  const bruno = await accountOf(page);

  // Unsent work: the dialog holds the focus, says how much, and gives the focus back.
  await loseSignal();
  await keep(page, { note: "sent before signing out" });
  await lineSays(page, "1 session waits");
  const signOut = page.getByRole("button", { name: "Sign out", exact: true });
  await signOut.focus();
  await signOut.press("Enter");
  await page.getByRole("heading", { name: "Not everything is sent" }).waitFor();
  hold(await page.evaluate(() => document.activeElement.closest("dialog") !== null), "the focus is not in the dialog");
  await fits(page, "before signing out");
  await isWithinReach(page, "before signing out");
  await page.emulateMedia({ colorScheme: "dark" });
  await picture(page, "journey-phone-sign-out-dark");
  await page.emulateMedia({ colorScheme: "light" });
  await picture(page, "journey-phone-sign-out");
  await page.keyboard.press("Escape");
  hold(await signOut.evaluate((button) => button === document.activeElement), "the focus is lost");
  await signOut.press("Enter");
  const send = page.getByRole("button", { name: "Send first, then sign out" });
  await send.tap();
  await page.getByText("No signal: 1 session is still only on this phone.").waitFor();
  await picture(page, "journey-phone-sign-out-unsent");
  await findSignal();
  await send.tap();
  await page.waitForURL((url) => url.pathname === "/sign-in");
  let left = await everythingOn(page);
  hold(!Object.keys(left.databases).includes(`leverbook-${bruno}`), "the database is still there");
  hold(!JSON.stringify(left).includes("Bruno"), "something of Bruno is still there");

  // Signing out and deleting, from a page outside the gym: the server takes no log, but signs out.
  await signInOnPhone(page, athlete);
  for (let request = 0; request < 30; request += 1) await forwarder("failed");
  await keep(page, { planned: false, note: "deleted at signing out" });
  await page.goto(`${base}/account`);
  await page.getByRole("button", { name: "Sign out", exact: true }).tap();
  await page.getByRole("button", { name: "Sign out and delete" }).tap();
  await page.waitForURL((url) => url.pathname === "/sign-in");
  await forwarder("clear");
  left = JSON.stringify(await everythingOn(page));
  hold(!left.includes("deleted at signing out") && !left.includes("Bruno"), "something of Bruno is still there");

  // Signed out from elsewhere with unsent work; then somebody else signs in on the same phone.
  await signInOnPhone(page, athlete);
  await loseSignal();
  await keep(page, { planned: false, note: "kept for Bruno alone" });
  await lineSays(page, "1 session waits");
  const elsewhere = await openWindow(browser);
  await signIn(elsewhere.page, athlete);
  await elsewhere.page.goto(`${base}/account`);
  await elsewhere.page.getByRole("button", { name: /everywhere/ }).click();
  await elsewhere.page.waitForURL((url) => url.pathname === "/sign-in");
  await findSignal();
  await lineSays(page, "You are signed out");
  await signInOnPhone(page, second);
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: "Connection" }).waitFor();
  left = await everythingOn(page);
  const ofBruno = left.databases[`leverbook-${bruno}`];
  hold(ofBruno.books.length === 0, "the second athlete's phone has the first one's book");
  hold(ofBruno.entries.length === 1, "the first one's unsent session is gone");
  delete left.databases[`leverbook-${bruno}`];
  for (const words of ["Bruno", "Ashgrove", "kept for Bruno alone", bruno]) {
    // That an account has something here is known by its number alone.
    if (words === bruno) delete left.databases.leverbook;
    hold(!JSON.stringify(left).includes(words), `“${words}” is still on the phone for the second athlete`);
  }
  hold((await page.locator("#phone-entries").innerText()).includes("Connection"), "the page is empty");

  // When the first one is back, their session is sent.
  await signOut.tap();
  await page.waitForURL((url) => url.pathname === "/sign-in");
  await page.getByText("1 session waits on this phone. It is sent when").waitFor();
  await signInOnPhone(page, athlete);
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: "Arrived" }).waitFor();
  nothingWrong();
});
