// An athlete puts the plan into their calendar, on a phone without script: makes a link, copies it, sets a time, and
// takes the link back.

import { at, base, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { context, page, wrong } = await openWindow(browser, {
    viewport: { width: 360, height: 740 },
    javaScriptEnabled: false,
  });
  const reader = await openWindow(browser);
  await signIn(page, process.env.LEVERBOOK_TEST_ATHLETE);
  await page.goto(at("plan"));
  await page.getByRole("link", { name: "In your calendar" }).click();
  await page.getByRole("button", { name: "Make a link" }).click();
  const field = page.getByLabel("Address");
  await field.waitFor();
  const address = await field.inputValue();
  hold(await field.evaluate((input) => input.readOnly), "what is to be copied can be changed");
  hold(address.startsWith(`${base}/calendar/`), address);
  const webcal = await page.getByRole("link", { name: "Open in a calendar" }).getAttribute("href");
  hold(webcal === address.replace("http://", "webcal://"), `${webcal} is not ${address}`);
  for (const width of [1280, 768, 360]) {
    await page.setViewportSize({ width, height: 740 });
    await fits(page, `the new link at ${width} px`);
    await picture(page, `journey-calendar-link-${width}`);
  }
  for (const target of await page.locator("main .button, main :is(input, textarea):visible").all()) {
    const box = await target.boundingBox();
    hold(box.height >= 44, `${await target.innerText()} is ${box.height} px high`);
  }

  // Whoever has the address reads it, signed in or not.
  const read = () => reader.context.request.get(address);
  hold((await (await read()).text()).includes("DTSTART;VALUE=DATE:20261125"), "no whole day");
  await page.getByLabel("Time of day").fill("18:30");
  await page.getByRole("button", { name: "Save the time" }).click();
  await page.getByText("Calendars show it when they next ask").waitFor();
  hold((await (await read()).text()).includes("DTSTART:20261125T183000Z"), "no time of day");
  hold(!(await page.content()).includes(address), "the link is shown a second time");
  await picture(page, "journey-calendar-time");
  await page.getByRole("button", { name: "Take the link back" }).click();
  await page.getByText("opens nothing any more").waitFor();
  hold((await read()).status() === 404, "a revoked link still opens");
  hold(wrong.length === 0, wrong.join("\n"));
  await context.close();

  // With script, so that axe can look at the link, too.
  const looked = await openWindow(browser, { viewport: { width: 360, height: 740 } });
  await signIn(looked.page, process.env.LEVERBOOK_TEST_ATHLETE);
  await looked.page.goto(at("calendar"));
  await looked.page.getByRole("button", { name: "Make a link" }).click();
  await looked.page.getByLabel("Address").waitFor();
  await isWithinReach(looked.page, "the new link");
  await looked.page.emulateMedia({ colorScheme: "dark" });
  await picture(looked.page, "journey-calendar-link-360-dark");
});
