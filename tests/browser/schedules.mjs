// A thousand random days of a phone: the real outbox in Chromium against a real server, behind a
// forwarder that loses requests and answers and kills the server. At the end the log must hold
// exactly what was entered; the test that started this looks into the database for it.
//
// A schedule is made of its number and the seed alone, so that one can be run again by itself.

import { readFile, writeFile } from "node:fs/promises";
import { gym, hold, withBrowser } from "./browser.mjs";

const told = (name) => JSON.parse(process.env[name]);
/** [{ origin, athletes: [{ account, token }] }], one for each that works at the same time. */
const workers = told("LEVERBOOK_TEST_WORKERS");
const { movements, clubs, today } = told("LEVERBOOK_TEST_WORK");
const { seed, schedules, only } = told("LEVERBOOK_TEST_SCHEDULES");

const scripts = await Promise.all(
  ["idb", "outbox"].map((name) => readFile(new URL(`../../static/js/${name}.js`, import.meta.url), "utf8")),
);

/** mulberry32: small, and the same everywhere. */
function chance(from) {
  let state = from >>> 0;
  const next = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
  const below = (number) => Math.floor(next() * number);
  const of = (list) => list[below(list.length)];
  return { below, of };
}

const FAULTS = ["request-lost", "answer-lost", "failed", "failed-after"];
/** What may happen, as often as it stands here. */
const STEPS = [
  ...Array(6).fill("log"),
  ...Array(5).fill("edit"),
  ...Array(2).fill("take back"),
  ...Array(3).fill("go offline"),
  ...Array(3).fill("come back"),
  ...Array(6).fill("fault"),
  ...Array(3).fill("reload"),
  ...Array(2).fill("send"),
  ...Array(3).fill("wait"),
  "keep twice",
  "restart",
];

function stepsOf(number) {
  const { below, of } = chance(seed + Math.imul(number + 1, 2654435761));
  return Array.from({ length: 6 + below(12) }, () => ({
    does: of(STEPS),
    fault: of(FAULTS),
    tab: below(2),
    which: below(1000),
    milliseconds: below(25),
    content: contentFrom({ below, of }),
  }));
}

function contentFrom({ below, of }) {
  const seconds = of([null, 30]);
  const day = new Date(`${today}T00:00:00Z`);
  day.setUTCDate(day.getUTCDate() - below(10));
  const set = (number) => ({
    movement: of(movements),
    hands: of(["two", "fingertip", "one"]),
    club: of(clubs),
    side: number % 2 === 0 ? "left" : "right",
    seconds,
    reps: below(40),
    asked: seconds === null ? of([null, 5]) : null,
  });
  return {
    format: 1,
    on: day.toISOString().slice(0, 10),
    planned: null,
    sets: Array.from({ length: 1 + below(4) }, (_, number) => set(number)),
    effort: of([null, 0, 0.5, 6, 10]),
    pain: of([[], [], [{ score: 0, place: null }], [{ score: 2, place: "left elbow" }]]),
    minutes: of([null, 1, 32]),
    note: of(["", "Quiet elbows. 🏋", "tired & <slow>", "100 % “fine”"]),
    taken_back: false,
  };
}

/** What was entered: revision id → content and whose. */
const entered = {};

async function control(worker, word) {
  const answer = await fetch(`${worker.origin}/forwarder/${word}`, { method: "POST" });
  hold(answer.status === 204, `the forwarder answered ${answer.status} to ${word}`);
}

async function openTabs(browser, worker, { account, token }) {
  const context = await browser.newContext();
  await context.addCookies([{ name: "leverbook", value: token, url: worker.origin }]);
  // A page that is there without signal, with nothing but the outbox on it.
  await context.route("**/light", (route) => route.fulfill({ contentType: "text/html", body: "<!doctype html>" }));
  for (const script of scripts) await context.addInitScript(script);
  const owner = JSON.stringify({ account, gym });
  await context.addInitScript(`
    globalThis.phone = leverbook.outbox.open(${owner});
    leverbook.outbox.arriveHere(${JSON.stringify(account)}, ${JSON.stringify(gym)});
  `);
  const tabs = [];
  for (let tab = 0; tab < 2; tab += 1) {
    const page = await context.newPage();
    await page.goto(`${worker.origin}/light`);
    tabs.push(page);
  }
  return { context, tabs };
}

/**
 * Keeps an entry: a first one, one that replaces another, or one that is kept already. The promise
 * is held only when it is on the disk. Returns the entry with its id.
 */
const keep = (page, content, before) =>
  page.evaluate(
    async ({ content, before }) => {
      const id = content.id ?? phone.newId();
      const entry = { ...content, id, replaces: before?.id ?? null, session: before?.session ?? id };
      await phone.keep(content.id ? content : entry, { dayBy: "athlete" });
      return content.id ? content : entry;
    },
    { content, before },
  );

async function runSchedule(number, worker, { context, tabs }, account) {
  const sessions = [];
  const offline = { yes: false };
  for (const step of stepsOf(number)) {
    const page = tabs[step.tab];
    const open = sessions.filter((revisions) => !revisions.at(-1).taken_back);
    switch (step.does) {
      case "log": {
        sessions.push([await keep(page, step.content)]);
        break;
      }
      case "edit":
      case "take back": {
        if (open.length === 0) break;
        const revisions = open[step.which % open.length];
        const before = revisions.at(-1);
        const taken_back = { ...before, id: undefined, taken_back: true };
        revisions.push(await keep(page, step.does === "edit" ? step.content : taken_back, before));
        break;
      }
      case "keep twice":
        if (sessions.length > 0) await keep(page, sessions[step.which % sessions.length].at(-1));
        break;
      case "go offline":
      case "come back":
        offline.yes = step.does === "go offline";
        await context.setOffline(offline.yes);
        break;
      case "fault":
        await control(worker, step.fault);
        break;
      case "restart":
        await control(worker, "restart");
        break;
      case "reload":
        await page.reload();
        break;
      case "send":
        await page.evaluate(() => void phone.send());
        break;
      case "wait":
        await page.waitForTimeout(step.milliseconds);
        break;
    }
  }
  await context.setOffline(false);
  await control(worker, "clear");
  await untilArrived(number, tabs[0]);
  for (const revisions of sessions) {
    for (const content of revisions) {
      hold(!(content.id in entered), `schedule ${number}: ${content.id} twice`);
      // A revision that takes a session back holds nothing else.
      const gone = { sets: [], effort: null, pain: [], minutes: null, note: "" };
      entered[content.id] = { ...content, ...(content.taken_back ? gone : {}), account };
    }
  }
}

async function untilArrived(number, page) {
  let states;
  for (let attempt = 0; attempt < 100; attempt += 1) {
    states = await page.evaluate(async () => {
      await phone.send();
      const entries = await phone.entries();
      return entries.filter(({ state }) => state !== "arrived").map(({ state, problems }) => ({ state, problems }));
    });
    if (states.length === 0) return;
    if (states.some(({ state }) => state !== "waiting")) break;
    await page.waitForTimeout(20);
  }
  const status = await page.evaluate(() => phone.status());
  throw new Error(`schedule ${number} of seed ${seed} did not arrive: ${JSON.stringify({ states, status })}`);
}

await withBrowser(async (browser) => {
  const athletes = workers.flatMap(({ athletes }) => athletes).length;
  const each = Math.ceil(schedules / athletes);
  let first = 0;
  await Promise.all(
    workers.map(async (worker) => {
      for (const athlete of worker.athletes) {
        const from = first;
        first += each;
        const numbers = Array.from({ length: each }, (_, number) => from + number).filter(
          (number) => number < schedules && (only === null || number === only),
        );
        if (numbers.length === 0) continue;
        const tabs = await openTabs(browser, worker, athlete);
        for (const number of numbers) await runSchedule(number, worker, tabs, athlete.account);
        await tabs.context.close();
      }
    }),
  );
});
await writeFile(process.env.LEVERBOOK_TEST_OUT, JSON.stringify(entered));
