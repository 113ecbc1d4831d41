// A coach writes, the athlete sees the mark and answers, the coach sees theirs: with the mouse, by the
// keyboard alone, and without script. Without signal nothing that was typed is lost.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

const { LEVERBOOK_TEST_COACH: coach, LEVERBOOK_TEST_ATHLETE: athlete, LEVERBOOK_TEST_BRUNO: bruno } = process.env;
const DESK = { viewport: { width: 1280, height: 900 } };
const PHONE = { viewport: { width: 360, height: 740 } };

/** Goes on with the Tab key until the focus is on something of this name. */
async function tabTo(page, name) {
  for (let presses = 0; presses < 120; presses += 1) {
    await page.keyboard.press("Tab");
    const here = await page.evaluate(() => {
      const one = document.activeElement;
      return one?.labels?.[0]?.innerText ?? one?.innerText ?? "";
    });
    if (here.replace(/\s+/g, " ").trim().startsWith(name)) return;
  }
  throw new Error(`${name} is not within reach of the Tab key on ${page.url()}`);
}

const room = (page, word) => page.getByRole("navigation", { name: "Rooms" }).getByRole("link", { name: word });

await withBrowser(async (browser) => {
  const desk = await openWindow(browser, DESK);
  const phone = await openWindow(browser, PHONE);
  await signIn(desk.page, coach);
  await signIn(phone.page, athlete);

  // By the mouse: from the athlete's page.
  await desk.page.goto(at(`athletes/${bruno}`));
  await desk.page.getByLabel("Note to Bruno Ashgrove").fill("How did the new club feel?\nTake a day more if your hands are sore.");
  await desk.page.getByRole("button", { name: "Write the note" }).click();
  await desk.page.getByText("The note is written.").waitFor();
  hold(desk.page.url().includes(`athletes/${bruno}/notes?done`), desk.page.url());
  hold((await desk.page.getByRole("article").first().innerText()).includes("not opened yet"), "no word of whether it was opened");
  await isWithinReach(desk.page, "the coach's notes, written");
  await picture(desk.page, "journey-notes-coach");
  await desk.page.reload();
  hold((await desk.page.getByRole("article").count()) === 1, "loading the page again wrote it again");

  await phone.page.goto(at("today"));
  hold((await room(phone.page, "My notes").innerText()).includes("1 new"), "no mark in the rooms");
  const shown = phone.page.getByRole("article").filter({ hasText: "How did the new club feel?" });
  hold((await shown.innerText()).includes("New"), "no mark at the note");
  await fits(phone.page, "Today with a note");
  await isWithinReach(phone.page, "Today with a note");
  await picture(phone.page, "journey-notes-today");
  await phone.page.getByRole("link", { name: /^Answer/ }).click();
  await phone.page.getByText("Written so far").waitFor();
  await fits(phone.page, "the athlete's notes");
  await isWithinReach(phone.page, "the athlete's notes");
  await picture(phone.page, "journey-notes-athlete");
  await phone.page.emulateMedia({ colorScheme: "dark" });
  await picture(phone.page, "journey-notes-athlete-dark");
  await phone.page.emulateMedia({ colorScheme: "light" });

  // By the keyboard alone: there and back.
  await tabTo(phone.page, "Note to your coach");
  await phone.page.keyboard.type("Good, thank you. The grip is thicker.");
  await phone.page.keyboard.press("Tab");
  await phone.page.keyboard.press("Enter");
  await phone.page.getByText("The note is written.").waitFor();
  await phone.page.goto(at("today"));
  hold((await room(phone.page, "My notes").innerText()) === "My notes", "the mark stays though the note was opened");

  await desk.page.goto(at("review"));
  await tabTo(desk.page, "Notes · 1 new");
  await desk.page.keyboard.press("Enter");
  await desk.page.getByText("unread first").waitFor();
  hold((await desk.page.locator("tbody tr").first().innerText()).includes("1 new"), "who wrote does not stand first");
  await isWithinReach(desk.page, "the coach's list");
  await picture(desk.page, "journey-notes-list");
  await tabTo(desk.page, "Bruno Ashgrove");
  await desk.page.keyboard.press("Enter");
  await desk.page.getByText("The grip is thicker.").waitFor();
  hold((await desk.page.getByRole("article").first().innerText()).includes("New"), "no mark at the answer");
  await tabTo(desk.page, "Note to Bruno Ashgrove");
  await desk.page.keyboard.type("Then we wrap the other one too.");
  await desk.page.keyboard.press("Tab");
  await desk.page.keyboard.press("Enter");
  await desk.page.getByText("The note is written.").waitFor();
  hold((await room(desk.page, "Notes").innerText()) === "Notes", "the mark stays though the answer was opened");

  // Too long comes back with what was typed, and a word at the field.
  await desk.page.getByLabel("Note to Bruno Ashgrove").evaluate((field) => field.removeAttribute("maxlength"));
  await desk.page.getByLabel("Note to Bruno Ashgrove").fill("x".repeat(2001));
  await desk.page.getByRole("button", { name: "Write the note" }).click();
  await desk.page.getByText("Nothing was saved yet").waitFor();
  hold((await desk.page.getByLabel("Note to Bruno Ashgrove").inputValue()).length === 2001, "what was typed is lost");
  await isWithinReach(desk.page, "a note that came back");

  // Without signal: the form waits and keeps the words, through a reload too; with signal it is sent.
  await phone.page.goto(at("mine/notes"));
  await phone.context.setOffline(true);
  await phone.page.getByLabel("Note to your coach").fill("Written in the cellar.");
  await phone.page.getByRole("button", { name: "Write the note" }).click();
  await phone.page.getByText("No signal: nothing was sent.").waitFor();
  await isWithinReach(phone.page, "a note without signal");
  await picture(phone.page, "journey-notes-no-signal");
  await phone.context.setOffline(false);
  await phone.page.goto(at("today"));
  await phone.page.goto(at("mine/notes"));
  hold((await phone.page.getByLabel("Note to your coach").inputValue()) === "Written in the cellar.", "the words are gone");
  await phone.page.getByRole("button", { name: "Write the note" }).click();
  await phone.page.getByText("The note is written.").waitFor();
  hold((await phone.page.getByLabel("Note to your coach").inputValue()) === "", "the words stand there once more");

  // Without script: on a session of one's own, and back.
  const plain = await openWindow(browser, { ...PHONE, javaScriptEnabled: false });
  await signIn(plain.page, athlete);
  await plain.page.goto(at("mine"));
  await plain.page.locator("table").last().getByRole("link").first().click();
  await plain.page.getByLabel("Note to your coach").fill("The last set was rushed.");
  await plain.page.getByRole("button", { name: "Write the note" }).click();
  await plain.page.getByText("The note is written.").waitFor();
  hold((await plain.page.getByRole("heading", { name: "Notes about this session" }).count()) === 1, plain.page.url());
  await fits(plain.page, "a session with a note");
  await picture(plain.page, "journey-notes-session");
  await desk.page.goto(at(`athletes/${bruno}/notes`));
  const about = desk.page.getByRole("article").filter({ hasText: "rushed" });
  hold((await about.innerText()).includes("About the session of"), await about.innerText());
  await about.getByRole("link", { name: /the session of/ }).click();
  await desk.page.getByText("The last set was rushed.").waitFor();
  await isWithinReach(desk.page, "a session with a note");
  await picture(desk.page, "journey-notes-session-coach");
  for (const { wrong } of [desk, phone, plain]) {
    const rest = wrong.filter((line) => !line.includes("ERR_INTERNET_DISCONNECTED"));
    hold(rest.length === 0, rest.join("\n"));
  }
});
