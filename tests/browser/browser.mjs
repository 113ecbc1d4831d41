// What every journey shares: Debian's Chromium, a person signed in, and a page that is looked at.

import { mkdir } from "node:fs/promises";
import { chromium } from "playwright-core";

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

/** Starts Chromium, hands it over, and ends it however the journey ends. */
export async function withBrowser(journey) {
  await mkdir(pictures, { recursive: true });
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
    ],
  });
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
