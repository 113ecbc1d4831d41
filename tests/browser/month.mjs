// The owner downloads a month, and the file is handed back to the test, which counts the log.

import { writeFile, readFile } from "node:fs/promises";
import { at, hold, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 800 } });
  await signIn(page, process.env.LEVERBOOK_TEST_OWNER);
  await page.goto(at("attendance"));
  await page.getByLabel("Month").fill("2026-10");
  await page.getByRole("button", { name: "Show" }).click();
  await page.getByRole("heading", { name: "October 2026" }).waitFor();
  const text = await page.locator("main").innerText();
  for (const health of ["effort", "Effort", "pain", "elbow"]) {
    hold(!text.includes(health), `the owner's page speaks of ${health}`);
  }
  await picture(page, "journey-month");
  const waiting = page.waitForEvent("download");
  await page.getByRole("link", { name: "Download as CSV" }).click();
  const download = await waiting;
  hold(download.suggestedFilename() === "attendance-2026-10.csv", download.suggestedFilename());
  await writeFile(process.env.LEVERBOOK_TEST_OUT, await readFile(await download.path()));
  hold(wrong.length === 0, wrong.join("\n"));
});
