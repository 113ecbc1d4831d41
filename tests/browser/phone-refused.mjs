// The server does not take an entry: what is independent of it arrives all the same, the phone says
// why, and what is put in its place arrives. Then the browser itself has the outbox sent, with no
// page open.

import { at, base, fits, hold, isWithinReach, picture, withBrowser } from "./browser.mjs";
import { change, keep, lineSays, openPhone, signInOnPhone, states, until } from "./phones.mjs";

await withBrowser(async (browser) => {
  const { context, page, nothingWrong, loseSignal, findSignal } = await openPhone(browser);
  await signInOnPhone(page, process.env.LEVERBOOK_TEST_ATHLETE);
  await loseSignal();
  const later = { planned: false, on: "2026-12-24", dayBy: "athlete" };
  const refused = await keep(page, { ...later, note: "on a day to come" });
  await keep(page, { ...later, note: "left out", pain: [{ score: 4, place: null }] });
  await keep(page, { note: "behind the refused ones" });
  await findSignal();
  await lineSays(page, "2 sessions need you.");
  await until("what is independent has arrived", async () => (await states(page)) === "arrived,refused,refused");
  await page.goto(at("phone"));
  await page.getByRole("heading", { name: /^Not taken/ }).first().waitFor();
  const untold = page.getByText("Your coach does not know of this pain until it is in the gym’s log.");
  hold((await untold.count()) === 1, "it is not said that the coach does not know of the pain");
  await page.getByText("What was kept").first().tap();
  await fits(page, "refused sessions");
  await isWithinReach(page, "refused sessions");
  await picture(page, "journey-phone-refused");
  const way = page.getByRole("link", { name: "Change it" }).last();
  hold((await way.getAttribute("href")).endsWith(`train?entry=${refused.id}`), "the way to change it");

  // Newest first: the one that is left out stands above.
  await page.getByRole("button", { name: "Leave it out of the gym’s log" }).first().tap();
  await page.getByRole("heading", { name: "Set aside" }).waitFor();
  await change(page, refused, { on: "2026-11-25", note: "put right" });
  await until("what was put right has arrived", async () => (await states(page)).startsWith("arrived,arrived,set_aside,set_aside"));
  await page.getByText("Put right since").waitFor();
  await picture(page, "journey-phone-put-right");

  // No page of the book is open when the signal comes back.
  await loseSignal();
  await keep(page, { planned: false, note: "sent by the browser" });
  const icon = await page.locator('link[rel="icon"]').getAttribute("href");
  await page.goto(base + icon);
  const devtools = await context.newCDPSession(page);
  const registered = new Promise((resolve) => {
    devtools.on("ServiceWorker.workerRegistrationUpdated", ({ registrations }) => {
      if (registrations.length > 0) resolve(registrations[0].registrationId);
    });
  });
  await devtools.send("ServiceWorker.enable");
  const registrationId = await registered;
  await findSignal();
  await devtools.send("ServiceWorker.dispatchSyncEvent", { origin: base, registrationId, tag: "outbox", lastChance: false });
  const arrived = () =>
    page.evaluate(
      () =>
        new Promise((resolve) => {
          // There is no script of ours on this page.
          indexedDB.databases().then((databases) => {
            const { name } = databases.find(({ name }) => /^leverbook-/.test(name));
            const opening = indexedDB.open(name);
            opening.onsuccess = () => {
              const all = opening.result.transaction("entries").objectStore("entries").getAll();
              all.onsuccess = () => {
                opening.result.close();
                resolve(all.result.at(-1).state === "arrived");
              };
            };
          });
        }),
    );
  await until("the worker has sent it", arrived);
  nothingWrong();
});
