// By keyboard alone: sixty athletes, twenty of whom need a decision, worked through to the closed week
// without one page load. Every key that goes down is counted.

import { at, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { viewport: { width: 1280, height: 900 } });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);
  await page.goto(at("review?week=2026-W47"));
  let loads = 0;
  page.on("request", (request) => {
    if (request.isNavigationRequest()) loads += 1;
  });
  let strokes = 0;
  const press = async (key) => {
    strokes += 1;
    await page.keyboard.press(key);
  };
  const type = async (text) => {
    for (const letter of text) await press(letter === " " ? "Space" : letter);
  };
  const said = page.locator("#week-said");
  const here = () =>
    page.evaluate(() => {
      const line = document.activeElement.closest(".week-line");
      const box = line?.getBoundingClientRect();
      return {
        name: line?.querySelector("h3 bdi").textContent ?? null,
        onLine: document.activeElement === line,
        waits: Boolean(line && "waits" in line.dataset),
        seen: Boolean(box && box.top < innerHeight && box.bottom > 0),
        outline: line ? getComputedStyle(line).outlineStyle : "",
      };
    });
  /** Presses a key that decides, and waits until it is said and the focus stands on the next. */
  const decide = async (keys, told) => {
    const before = (await here()).name;
    for (const key of keys) await press(key);
    await said.getByText(new RegExp(`^${before}: ${told}`)).waitFor();
    return before;
  };
  const need = page.locator(".week-line[data-waits]");

  hold((await page.locator(".week-line").count()) === 60, "sixty stand in the week");
  hold((await need.count()) === 20, `${await need.count()} need a decision`);
  for (const key of ["n", "p", "o", "a", "h", "c", "w", "u"]) {
    hold(
      await page.locator("#week-keys kbd", { hasText: new RegExp(`^${key}$`) }).isVisible(),
      `${key} is not in the list of keys`,
    );
  }
  hold(
    (await page.locator('.week-line [value="accept"] kbd').first().innerText()) === "a",
    "no key beside the button",
  );

  await press("n");
  await press("n");
  await press("p");
  const start = await here();
  hold(start.onLine && start.seen && start.outline === "solid", JSON.stringify(start));

  // The first hurts: the figures are opened, a note is written, the proposal to wait is accepted.
  await press("o");
  hold(
    await page.locator(".week-line:focus .week-why[open] .facts").first().isVisible(),
    "nothing opened in place",
  );
  await picture(page, "keys-open");
  await press("w");
  await type("see a clinician, please");
  await press("Escape");
  hold((await here()).onLine, "Escape does not lead out of the note");
  await decide(["a"], "Accepted as proposed\\. 19 left");
  hold((await here()).waits && (await here()).seen, "the focus is not on the next who waits");
  await decide(["h"], "Held");
  for (let more = 0; more < 3; more += 1) await decide(["a"], "Accepted");

  // Eight jumped: two of them go back a club, with a reason; letters in a field are only letters.
  for (let jumped = 0; jumped < 2; jumped += 1) {
    await press("o");
    await press("c");
    await press("ArrowDown");
    await press("ArrowDown");
    await press("Tab");
    if (jumped === 1) await press("H");
    await press("Tab");
    await type("a jump");
    await decide(["Enter"], "Changed: step back");
  }
  // A change without a reason comes back to the field that lacks it.
  await press("c");
  await press("Tab");
  await press("Tab");
  await press("Enter");
  await page.locator(".week-line .wrong-list").waitFor();
  hold(
    await page.evaluate(() => document.activeElement.name === "reason"),
    "the focus is not on the reason",
  );
  await isWithinReach(page, "sixty, with a change that lacks its reason");
  await press("Escape");
  await decide(["a"], "Accepted");
  for (let more = 0; more < 5; more += 1) await decide(["a"], "Accepted");

  // Seven earned a step: one is taken back and held instead, one gets a note.
  const taken = await decide(["a"], "Accepted");
  await press("u");
  await said.getByText(`${taken}: Taken back.`).waitFor();
  hold((await here()).name === taken, "taking back does not lead to who it was");
  await decide(["h"], "Held");
  await press("w");
  await type("well swung");
  await press("Escape");
  await decide(["a"], "Accepted");
  for (let more = 0; more < 5; more += 1) await decide(["a"], "Accepted");
  await said.getByText(/Nobody else needs you\.$/).waitFor();
  hold((await need.count()) === 0, `${await need.count()} still need a decision`);
  const atSteady = await page.evaluate(() => document.activeElement.dataset.need);
  hold(atSteady === "steady", "after the last who needs one come the steady ones");

  // One steady one by itself, then all the others in one go.
  await decide(["a"], "Accepted");
  await press("s");
  await press("Enter");
  await said.getByText("Accepted as proposed, all of them.").waitFor();
  await press("e");
  await press("Enter");
  await page.getByRole("heading", { name: /^You closed this week/ }).waitFor();
  const summary = await page.locator(".week-summary").innerText();
  hold(/60 of 60: 56 accepted, 2 changed, 2 held/.test(summary), summary);
  hold(/Notes written\s+2/.test(summary), summary);
  await picture(page, "keys-closed");
  hold(loads === 0, `${loads} page loads in between`);
  hold(strokes < 200, `${strokes} keystrokes`);
  console.log(`${strokes} keystrokes for 60 athletes, 20 of whom needed a decision; no page load`);
  await isWithinReach(page, "sixty, closed");
  await press("e");
  await press("Enter");
  await said.getByText("The week is open again.").waitFor();

  // Single keys switched off: nothing happens, nothing is shown, and this device remembers.
  await page.locator("#week-keys-on").focus();
  await page.keyboard.press("Space");
  await said.getByText("Single keys are off.").waitFor();
  hold((await page.locator(".week-line kbd").count()) === 0, "keys are shown that do nothing");
  await page.locator(".week-line").first().focus();
  const before = await here();
  for (const key of ["n", "u", "c"]) await page.keyboard.press(key);
  hold((await here()).name === before.name && (await here()).onLine, "a switched-off key did something");
  await page.reload();
  hold(!(await page.locator("#week-keys-on").isChecked()), "the device does not remember");
  await page.locator("#week-keys-on").press("Space");
  // With a modifier a letter belongs to the browser.
  await page.locator(".week-line").first().focus();
  const still = await here();
  for (const key of ["Alt+n", "Shift+n", "Control+Shift+n"]) await page.keyboard.press(key);
  hold((await here()).name === still.name, "a key with a modifier did something");
  hold(wrong.length === 0, wrong.join("\n"));
});
