// The page of one athlete: every chart stands where its figures say, and is walked along by mouse, by keyboard alone
// and, without script, read from its titles and its table; axe finds nothing; years stay readable on a phone.

import { at, fits, hold, isWithinReach, openWindow, picture, signIn, withBrowser } from "./browser.mjs";

/** [{ handle, id, coach }], and of one of them, marked `told`, what must be reached: made by the test. */
const athletes = JSON.parse(process.env.LEVERBOOK_TEST_ATHLETES);
const keepPictures = Boolean(process.env.LEVERBOOK_PICTURES);
const told = athletes.find((athlete) => athlete.told);

const pageOf = ({ id }) => at(`athletes/${id}?since=all`);

/** What every chart over time says of itself: its labels, its points with their words, its table. */
const charts = (page) =>
  page.locator("figure[data-along=x]").evaluateAll((figures) =>
    figures.map((figure) => {
      const svg = figure.querySelector("svg[role=img]");
      const number = (element, name) => parseFloat(element.getAttribute(name));
      const ticks = [...svg.querySelectorAll(".grid-line")].map((line) => ({
        at: number(line, "y1"),
        value: parseFloat(line.nextElementSibling.textContent),
      }));
      const points = [...svg.querySelectorAll("svg > title")]
        .filter((title) => title.parentElement !== svg && title.parentElement.querySelector(".mark"))
        .map((title) => ({
          x: number(title.parentElement, "x"),
          y: number(title.parentElement, "y"),
          said: title.textContent,
        }));
      const rows = [...figure.querySelectorAll("tr[data-at]")].map((row) => ({
        at: number(row, "data-at"),
        cells: [...row.cells].map((cell) => cell.textContent),
      }));
      const signs = [...svg.querySelectorAll(".lane ~ svg")].map((sign) => sign.textContent.trim());
      return { title: svg.querySelector("title").textContent, ticks, points, rows, signs };
    }),
  );

/** A day as the page writes it, in days since 1970. */
const dayOf = (words) => Math.round(Date.parse(`${words.replace(/^\w+ /, "")} UTC`) / 86_400_000);

/** Points stand where their values are, between the labels; across, days are spread evenly. */
function standRight({ title, ticks, points, rows }, who) {
  const where = `${who}, ${title}`;
  hold(ticks.length >= 3 && points.length > 0 && rows.length >= 1, `${where}: nothing is drawn`);
  const [bottom, top] = [ticks[0], ticks.at(-1)];
  const y = (value) => bottom.at + ((value - bottom.value) / (top.value - bottom.value)) * (top.at - bottom.at);
  const days = rows.map((row) => ({ at: row.at, day: dayOf(row.cells[0]) }));
  const [newest, oldest] = [days[0], days.at(-1)];
  const x = (day) =>
    newest.day === oldest.day
      ? newest.at
      : oldest.at + ((day - oldest.day) / (newest.day - oldest.day)) * (newest.at - oldest.at);
  for (const { at, day } of days) hold(Math.abs(x(day) - at) < 0.02, `${where}: a row stands at ${at}, not ${x(day)}`);
  for (const point of points) {
    const day = point.said.match(/^\w+ \d+ \w+ \d+/)[0];
    hold(Math.abs(x(dayOf(day)) - point.x) < 0.02, `${where}: ${point.said} stands at ${point.x} %`);
    // The value is the last number but of "7 × 5", where it is the first.
    const words = point.said.slice(point.said.lastIndexOf(": ") + 2);
    const value = parseFloat(words.includes("×") ? words : words.match(/-?[\d.]+(?=[^\d]*$)/)[0]);
    // A figure in words is rounded; the point is not.
    const unit = Math.abs(y(bottom.value + 1) - bottom.at);
    const decimals = (String(value).split(".")[1] ?? "").length;
    const room = Math.max(0.06, unit * (decimals ? 0.051 : 0.501));
    hold(Math.abs(y(value) - point.y) <= room, `${where}: ${point.said} stands at ${point.y} px, not ${y(value)}`);
  }
}

/** No label of a chart lies on another. */
const overlaps = (page) =>
  page.locator("figure[data-along=x] svg[role=img]").evaluateAll((drawings) =>
    drawings.flatMap((svg) => {
      const labels = [...svg.querySelectorAll("text:not(.goal-word)")]
        .filter((text) => text.textContent && getComputedStyle(text).display !== "none" && text.getBoundingClientRect().width)
        .map((text) => ({ words: text.textContent, box: text.getBoundingClientRect() }));
      return labels.flatMap((one, place) =>
        labels.slice(place + 1).flatMap((other) => {
          const across = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
          const down = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
          return across > 1 && down > 4 ? [`${svg.querySelector("title").textContent}: ${one.words} on ${other.words}`] : [];
        }),
      );
    }),
  );

await withBrowser(async (browser) => {
  const { page, wrong } = await openWindow(browser, { reducedMotion: "reduce" });
  await signIn(page, process.env.LEVERBOOK_TEST_COACH);

  const overlapping = [];
  for (const athlete of athletes) {
    for (const width of [360, 768, 1280]) {
      await page.setViewportSize({ width, height: 800 });
      await page.goto(pageOf(athlete));
      await fits(page, `${athlete.handle}, ${width} px`);
      overlapping.push(...(await overlaps(page)).map((words) => `${athlete.handle}, ${width} px: ${words}`));
      if (!keepPictures) continue;
      for (const colorScheme of ["dark", "light"]) {
        await page.emulateMedia({ colorScheme });
        await picture(page, `story-${athlete.handle}-${width}-${colorScheme}`);
      }
    }
    const drawn = await charts(page);
    hold(drawn.length >= 3, `${athlete.handle}: ${drawn.length} charts`);
    for (const chart of drawn) standRight(chart, athlete.handle);
  }

  hold(overlapping.length === 0, overlapping.join("\n"));

  // What happened is drawn, and has its row.
  await page.goto(pageOf(told));
  const rows = (await charts(page)).flatMap((chart) => chart.rows.map((row) => row.cells.join(" | ")));
  for (const words of told.told) {
    hold(rows.some((row) => row.includes(words)), `no row says “${words}”:\n${rows.slice(0, 40).join("\n")}`);
  }

  // By mouse: what is pointed at is read out, and stays while the pointer goes to it; Escape puts it away.
  const figure = page.locator("figure[data-along=x]").first();
  const walk = figure.getByRole("slider");
  const readout = figure.locator(".readout");
  const table = figure.locator("tr[data-at]");
  const newest = await table.first().evaluate((row) => row.cells[0].textContent);
  const oldest = await table.last().evaluate((row) => row.cells[0].textContent);
  await walk.scrollIntoViewIfNeeded();
  const box = await walk.boundingBox();
  await page.mouse.move(box.x + 1, box.y + 60);
  hold((await readout.innerText()).startsWith(oldest), `pointed at the first day: ${await readout.innerText()}`);
  await page.mouse.move(box.x + box.width - 1, box.y + 60, { steps: 5 });
  hold((await readout.innerText()).startsWith(newest), `pointed at the last day: ${await readout.innerText()}`);
  await readout.hover();
  hold((await readout.innerText()).startsWith(newest), "what was read goes as the pointer comes to it");
  await page.keyboard.press("Escape");
  hold(!(await readout.innerText()).includes(newest), "Escape does not put it away");
  await page.mouse.move(0, 0);

  // By keyboard alone: one tab stop a chart, arrows from day to day, to both ends and no further.
  await page.goto(pageOf(told));
  for (let step = 0; step < 80; step++) {
    await page.keyboard.press("Tab");
    if (await walk.evaluate((slider) => slider === document.activeElement)) break;
  }
  hold(await walk.evaluate((slider) => slider === document.activeElement), "the keyboard does not reach the first chart");
  const said = () => walk.getAttribute("aria-valuetext");
  hold((await said()).startsWith(newest), `a chart begins at its newest day: ${await said()}`);
  const days = await table.evaluateAll((rows) => rows.map((row) => row.cells[0].textContent).reverse());
  await page.keyboard.press("ArrowRight");
  hold((await said()).startsWith(newest), "there is a day after the last");
  await page.keyboard.press("ArrowLeft");
  hold((await said()).startsWith(days.at(-2)), `one day back is ${days.at(-2)}: ${await said()}`);
  hold((await readout.innerText()).startsWith(days.at(-2)), "eye and ear are told different days");
  await page.keyboard.press("Home");
  hold((await said()).startsWith(days[0]), `the first day: ${await said()}`);
  await page.keyboard.press("PageUp");
  hold((await said()).startsWith(days[Math.min(10, days.length - 1)]), `ten days on: ${await said()}`);
  const ring = await walk.evaluate((slider) => getComputedStyle(slider).outlineStyle);
  hold(ring === "solid", "the chart does not show that the keyboard is at it");
  await isWithinReach(page, "an athlete's page with a day read out");
  if (keepPictures) await figure.screenshot({ path: `${process.env.LEVERBOOK_TEST_PICTURES}/story-read-out.png` });
  await page.keyboard.press("Escape");
  hold(await readout.evaluate((one) => one.classList.contains("is-empty")), "Escape does not put it away");
  await page.keyboard.press("Tab");
  const next = await page.evaluate(() => document.activeElement.tagName);
  hold(next === "SUMMARY", `after a chart comes its table, not ${next}`);

  // Rows that go down are walked along too.
  for (const name of ["Reps on each side", "Each day of these weeks"]) {
    const down = page.getByRole("slider", { name: new RegExp(name) });
    await down.focus();
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("ArrowUp");
    const first = page.locator("figure", { has: down }).locator("tr[data-at]").first();
    const row = await first.evaluate((row) => row.cells[0].textContent);
    hold((await down.getAttribute("aria-valuetext")).startsWith(row), `${name}: ${await down.getAttribute("aria-valuetext")}`);
  }

  // All that is folded, and a window of one's own choice.
  await page.locator("main details").evaluateAll((all) => all.forEach((details) => (details.open = true)));
  await page.setViewportSize({ width: 360, height: 800 });
  await fits(page, "an athlete's page with its tables");
  await isWithinReach(page, "an athlete's page with its tables, on a phone");
  await page.getByLabel("Since", { exact: true }).fill("2026-06-01");
  await page.getByRole("button", { name: "Show" }).click();
  await page.getByText("shown since Mon 1 Jun 2026").waitFor();

  // On paper: the drawings and their tables, nothing to walk along.
  await page.emulateMedia({ media: "print" });
  hold(!(await readout.isVisible()) && !(await walk.isVisible()), "what is walked along is printed");
  hold(await page.locator("figure[data-along=x] table").first().isVisible(), "the table is not printed");
  if (keepPictures) await picture(page, "story-print");
  hold(wrong.length === 0, wrong.join("\n"));

  // Without script: titles for the pointer, the table by keyboard, nothing that does not work.
  const { page: plain } = await openWindow(browser, { javaScriptEnabled: false });
  await signIn(plain, process.env.LEVERBOOK_TEST_COACH);
  await plain.goto(pageOf(told));
  hold((await plain.getByRole("slider").count()) === 0, "a slider without script");
  const drawing = plain.locator("figure[data-along=x]").first();
  const title = await drawing.locator("svg svg > title").first().textContent();
  hold(/\d/.test(title), `a point's title: ${title}`);
  const figures = drawing.getByText("The figures in a table");
  await figures.focus();
  await plain.keyboard.press("Enter");
  hold(await drawing.getByRole("table").isVisible(), "the table does not open");
});
