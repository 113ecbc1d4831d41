// What every journey shares: Debian's Chromium, a person signed in, and a page that is looked at.

import { mkdir, readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

const told = (name) => {
  const value = process.env[name];
  if (!value) throw new Error(`${name} is not set: journeys are started by the tests`);
  return value;
};

/** Where the server under test is, and what is in it. */
export const base = told("LEVERBOOK_TEST_URL");
export const gym = told("LEVERBOOK_TEST_GYM");
export const pictures = told("LEVERBOOK_TEST_PICTURES");
const password = told("LEVERBOOK_TEST_PASSWORD");

/** An address inside the gym. */
export const at = (page) => `${base}/g/${gym}/${page}`;

/** Fails the journey unless it holds. */
export function hold(condition, sentence) {
  if (!condition) throw new Error(sentence);
}

/** How Chromium is started. */
export const BROWSER = {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    // A name in a gym's own network, for the journey that is not on the same machine.
    "--host-resolver-rules=MAP book.quarry.example 127.0.0.1",
  ],
};

/** Starts Chromium, hands it over, and ends it however the journey ends. */
export async function withBrowser(journey) {
  await mkdir(pictures, { recursive: true });
  const browser = await chromium.launch(BROWSER);
  try {
    await journey(browser);
  } finally {
    await browser.close();
  }
}

/** A window of its own, whose page fails the journey on any script error or refused request. */
export async function openWindow(browser, options = {}) {
  const context = await browser.newContext({ locale: "en-GB", acceptDownloads: true, ...options });
  const page = await context.newPage();
  const wrong = [];
  page.on("pageerror", (error) => wrong.push(`script: ${error.message}`));
  page.on("console", (message) => {
    // A form that comes back with 422 is also told on the console; that is no fault.
    if (message.type() === "error" && !message.text().includes("status of 4")) {
      wrong.push(`console: ${message.text()}`);
    }
  });
  page.on("request", (request) => {
    if (!request.url().startsWith(base) && !request.url().startsWith("data:")) {
      wrong.push(`a request to another host: ${request.url()}`);
    }
  });
  return { context, page, wrong };
}

/** Signs somebody in by the page, as they would. */
export async function signIn(page, email) {
  await page.goto(`${base}/sign-in`);
  await page.getByLabel("Email").fill(email);
  await page.getByLabel("Password").fill(password);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL((url) => !url.pathname.startsWith("/sign-in"));
}

/** What axe finds on the page as it stands. */
export async function violations(page) {
  // Run outside the page's own policy for scripts: the text is handed to the debugger.
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axe);
  const result = await page.evaluate(() =>
    globalThis.axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }),
  );
  return result.violations.map(
    (violation) =>
      `${violation.id}: ${violation.help} (${violation.nodes
        .slice(0, 3)
        .map((node) => node.target.join(" "))
        .join("; ")})`,
  );
}

/** Fails the journey if axe finds anything on the page as it stands, light or dark. */
export async function isWithinReach(page, where) {
  for (const colorScheme of ["dark", "light"]) {
    await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
    const found = await violations(page);
    hold(found.length === 0, `${where}, ${colorScheme}:\n${found.join("\n")}`);
  }
}

/** Keeps a picture of the whole page, to be looked at. */
export const picture = (page, name) =>
  page.screenshot({ path: `${pictures}/${name}.png`, fullPage: true });

/** The page must not scroll sideways. */
export async function fits(page, where) {
  const [wide, room] = await page.evaluate(() => [
    document.documentElement.scrollWidth,
    document.documentElement.clientWidth,
  ]);
  hold(wide <= room, `${where} scrolls sideways: ${wide} px in ${room}`);
}
