// "On this phone": what waits, what has arrived, what needs its athlete, how a guided session
// signals, and how to have the pages as an app.

import { dayWords, element, facts, hasNews, instantWords, sessions, sessionsOf, titleOf } from "./words.js";

const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`).content;
const outbox = globalThis.leverbook.outbox;
const phone = outbox.open({ account: meta("account"), gym: meta("gym") });
const to = (page) => `/g/${phone.gym}/${page}`;

/** How many of the arrived sessions are listed. */
const ARRIVED_LISTED = 20;

/** What is shown, in short; and what was shown when something was said about it. */
let shown = "";
let saidOf = "";

/** Says what was just done, to everybody, until something else has happened. */
function say(sentence) {
  document.getElementById("phone-said").textContent = sentence;
  saidOf = shown;
}

const button = (word, look, key, onclick) =>
  element("button", { type: "button", class: `button ${look}`, "data-key": key, onclick }, word);
const link = (word, look, page) => element("a", { class: `button ${look}`, href: to(page) }, word);

/** One after the other, so that what is older is never shown over what is newer. */
let showing = Promise.resolve();

function showEntries() {
  showing = showing.then(showEntriesNow, showEntriesNow);
  return showing;
}

async function showEntriesNow() {
  const place = document.getElementById("phone-entries");
  const [book, records, status, underway] = await Promise.all([
    phone.carried(),
    phone.entries(),
    phone.status(),
    phone.underway.all(),
  ]);
  shown = records.map(({ content, state, noted }) => `${content.id} ${state} ${noted}`).join();
  if (shown !== saidOf) say("");
  const focused = document.activeElement?.dataset?.key;
  const opened = new Set(
    Array.from(place.querySelectorAll("details[open]"), (details) => details.dataset.key),
  );
  place.replaceChildren(
    ...underWaySection(underway, book),
    ...records.filter(({ state }) => state === "changed_meanwhile").map((one) => conflict(one, book)),
    ...records.filter(({ state }) => state === "refused").map((one) => refused(one, book)),
    ...records.filter(hasNews).map((one) => news(one, book)),
    ...listSection("Waits to be sent", records.filter(({ state }) => state === "waiting"), book, waitingLine),
    ...sendSection(records, status),
    ...listSection(
      "Arrived",
      records.filter(({ state }) => state === "arrived").slice(0, ARRIVED_LISTED),
      book,
      arrivedLine,
    ),
    ...listSection("Set aside", records.filter(({ state }) => state === "set_aside"), book, asideLine),
    contact(book, status),
  );
  for (const details of place.querySelectorAll("details")) {
    details.open = opened.has(details.dataset.key);
  }
  if (focused) place.querySelector(`[data-key="${focused}"]`)?.focus();
}

function underWaySection(underway, book) {
  if (underway.length === 0) return [];
  const lines = underway.map(({ key }) => {
    const planned = book?.planned.find((one) => one.planned === key);
    const name = planned ? `${planned.movement_name} with ${planned.club_name}` : "A session of your own choice";
    const query = key === "free" ? "free=1" : `planned=${encodeURIComponent(key)}`;
    return element("li", {}, element("a", { class: "line", href: to(`train?${query}`) }, `${name}: go on`));
  });
  return [element("h2", {}, "Under way"), element("ul", { class: "plain-list" }, lines)];
}

function conflict(record, book) {
  const { newest, content } = record;
  const id = content.id;
  const by = newest.by === "you" ? "by you, from elsewhere" : `by ${newest.by}`;
  const when = instantWords(Date.parse(newest.at), book?.zone);
  return element(
    "section",
    { class: "sheet" },
    element("h2", { dir: "auto" }, `Changed twice: ${titleOf(content, book)}`),
    element(
      "p",
      { dir: "auto" },
      `While your version waited here, this session was changed ${by}, on ${when}. Nothing is lost: choose which one counts.`,
    ),
    element(
      "div",
      { class: "columns" },
      element("div", {}, element("h3", {}, "In the log now"), facts(newest.entry ?? { taken_back: true }, book)),
      element("div", {}, element("h3", {}, "Yours, on this phone"), facts(content, book)),
    ),
    element(
      "div",
      { class: "actions" },
      button("Leave the log as it is", "", `leave-${id}`, async () => {
        await phone.leaveAsItIs(id);
        await settled("Yours is set aside. It stays readable below.");
      }),
      button("Put mine in its place", "main", `mine-${id}`, async () => {
        await phone.putMineInItsPlace(id);
        await settled("Yours is sent as the newest version. The other one stays in the session’s history.");
      }),
    ),
  );
}

function refused(record, book) {
  const { content, problems } = record;
  const id = content.id;
  return element(
    "section",
    { class: "sheet" },
    element("h2", { dir: "auto" }, `Not taken: ${titleOf(content, book)}, ${dayWords(content.on)}`),
    element(
      "div",
      { class: "notice caution" },
      problems.map(({ sentence }) => element("p", {}, sentence)),
    ),
    details(record, book),
    element(
      "div",
      { class: "actions" },
      link("Change it", "main", `train?entry=${id}`),
      button("Leave it out of the log", "", `out-${id}`, async () => {
        await phone.leaveAsItIs(id);
        await settled("It is set aside and not sent. It stays readable below.");
      }),
    ),
  );
}

/** What was said about an entry that was taken. */
function news(record, book) {
  const { content, day_moved_from, ask_day, plan, stop } = record;
  const id = content.id;
  const day = dayWords(content.on);
  const asksDay = day_moved_from || ask_day;
  return element(
    "section",
    { class: "sheet" },
    element("h2", { class: "name", dir: "auto" }, `${titleOf(content, book)}, ${day}`),
    stop
      ? element(
          "div",
          { class: "notice wrong-list" },
          element("p", {}, "You said that it hurts. Put the club down, and do nothing more today that hurts."),
          element(
            "p",
            {},
            "Your coach is told. If the pain is strong, came suddenly, or is still there tomorrow, see a licensed clinician. This is no medical advice.",
          ),
        )
      : null,
    day_moved_from
      ? element("p", {}, `Your phone’s clock is ahead: logged for ${day}; change the day if that is wrong.`)
      : null,
    ask_day
      ? element("p", {}, `Your phone’s clock was set to another time since. This session is logged for ${day}. Is that the right day?`)
      : null,
    plan ? element("p", { dir: "auto" }, plan) : null,
    element(
      "div",
      { class: "actions" },
      button(asksDay ? "The day is right" : "I have read it", "main", `noted-${id}`, async () => {
        await phone.noted(id);
        await settled("Noted.");
      }),
      asksDay ? link("Change the day", "", `train?entry=${id}`) : null,
    ),
  );
}

/** Something was decided: its buttons are gone, so the focus goes to the page. */
async function settled(sentence) {
  await showEntries();
  say(sentence);
  document.getElementById("content").focus();
}

function listSection(title, records, book, line) {
  if (records.length === 0) return [];
  return [
    element("h2", {}, title),
    element("ul", { class: "plain-list kept-list" }, records.map((record) => line(record, book))),
  ];
}

const details = (record, book) =>
  element(
    "details",
    { "data-key": `details-${record.content.id}` },
    element("summary", { "data-key": `summary-${record.content.id}` }, "What was kept"),
    facts(record.content, book),
  );

const listed = (record, book, said) =>
  element(
    "li",
    { class: "sheet" },
    element("p", { class: "name", dir: "auto" }, `${titleOf(record.content, book)}, ${dayWords(record.content.on)}`),
    said ? element("p", { class: "hint" }, said) : null,
    details(record, book),
  );

function waitingLine(record, book) {
  const line = listed(record, book, kindOf(record));
  line.append(element("p", {}, element("a", { class: "line", href: to(`train?entry=${record.content.id}`) }, "Change it")));
  return line;
}

const arrivedLine = (record, book) => listed(record, book, kindOf(record));
const asideLine = (record, book) =>
  listed(record, book, record.instead ? "Put right since: another version counts." : "Not in the log. Only on this phone.");

function kindOf({ content }) {
  if (content.taken_back) return "Takes the session back.";
  return content.replaces === null ? null : "A change of a session that was logged before.";
}

function sendSection(records, { signed_in }) {
  const waiting = records.filter(({ state }) => state === "waiting").length;
  if (waiting === 0) return [];
  if (!signed_in) {
    const next = encodeURIComponent(location.pathname);
    return [element("p", {}, element("a", { class: "button main", href: `/sign-in?next=${next}` }, "Sign in to send them"))];
  }
  const send = async () => {
    say("Sending…");
    await phone.send();
    await showEntries();
    const left = sessionsOf((await phone.entries()).filter(({ state }) => state === "waiting"));
    say(left === 0 ? "Sent." : `${sessions(left, "waits", "wait")} still: ${await whyNot()}`);
  };
  return [element("p", {}, button("Try to send now", "", "send", send))];
}

async function whyNot() {
  const { problem } = await phone.status();
  const reasons = {
    no_signal: "there is no signal, or the server does not answer.",
    signed_out: "you are signed out.",
    not_allowed: "the server does not take sessions from this sign-in. Ask your gym’s owner.",
    not_kept: "this browser’s storage does not answer. Open the page again.",
  };
  return reasons[problem] ?? "the server cannot take them now. It is tried again by itself.";
}

function contact(book, { contact_at, signed_in }) {
  const days = Object.keys(book?.days ?? {}).sort();
  const fact = (name, value) => element("div", {}, element("dt", {}, name), element("dd", {}, value));
  return element(
    "div",
    {},
    element("h2", {}, "Contact"),
    element(
      "dl",
      { class: "facts" },
      fact("Signed in", signed_in ? "yes" : "no"),
      fact("Last contact", contact_at ? instantWords(contact_at, book?.zone) : "none yet"),
      fact("Plan on this phone", days.length > 0 ? `until ${dayWords(days.at(-1))}` : "none yet"),
    ),
  );
}

async function showSettings() {
  const settings = await phone.settings();
  const kept = async (name, value) => {
    await phone.set(name, value);
    say("Kept.");
  };
  const choice = (name, word) => {
    const box = element("input", { type: "checkbox", checked: settings[name] });
    box.addEventListener("change", () => kept(name, box.checked));
    return element("label", { class: "choice" }, box, word);
  };
  const lead = element("input", {
    type: "number",
    id: "lead-in",
    inputmode: "numeric",
    min: 0,
    max: 60,
    step: 1,
    value: String(settings.lead_in),
    "aria-describedby": "lead-in-hint",
  });
  lead.addEventListener("change", () => {
    if (lead.value === "" || !lead.checkValidity()) {
      say("Seconds to get ready are a whole number from 0 to 60. Nothing was changed.");
      lead.value = String(settings.lead_in);
      return;
    }
    settings.lead_in = Number(lead.value);
    kept("lead_in", settings.lead_in);
  });
  document.getElementById("phone-settings").replaceChildren(
    element("h2", {}, "Signals while training"),
    element(
      "div",
      { class: "fields" },
      element(
        "fieldset",
        { class: "field" },
        element("legend", {}, "Start, change of hands and rest are told by"),
        element(
          "div",
          { class: "choices" },
          choice("sound", "Sound"),
          choice("vibration", "Vibration"),
          choice("colour", "Colour"),
          choice("words", "Words"),
        ),
      ),
      element(
        "div",
        { class: "field" },
        element("label", { for: "lead-in" }, "Time to get ready"),
        element("span", { class: "hint", id: "lead-in-hint" }, "Counted down before the first swing of a set."),
        element("span", { class: "with-unit" }, lead, element("span", { class: "unit" }, "seconds")),
      ),
    ),
  );
}

// As an app. Where the browser offers it, with a button; else in words that fit every browser.

let offered = null;

function showApp() {
  const place = document.getElementById("phone-app");
  const alone = matchMedia("(display-mode: standalone)").matches;
  const said = alone
    ? "You are looking at it as an app already."
    : "Your training can stand on this phone as an app of its own. It opens without signal, and no shop for apps is needed.";
  const way = offered
    ? button("Make it an app", "main", "app", async () => {
        const offer = offered;
        offered = null;
        await offer.prompt();
        showApp();
      })
    : element(
        "p",
        {},
        "Open your browser’s menu, or the sheet for sharing a page, and choose to put this page among your apps or on the first screen.",
      );
  place.replaceChildren(element("h2", {}, "As an app"), element("p", {}, said), ...(alone ? [] : [way]));
}

addEventListener("beforeinstallprompt", (event) => {
  event.preventDefault();
  offered = event;
  showApp();
});

async function begin() {
  const refresh = () => showEntries().catch(() => {});
  phone.onChange(refresh);
  for (const event of ["online", "offline"]) addEventListener(event, refresh);
  await showEntries();
  await showSettings();
}

// From top to bottom, so that nothing moves that is read already.
begin()
  .catch(() => {
    document.getElementById("phone-settings").hidden = true;
    say("This browser keeps nothing on this phone: its storage is switched off. With signal, everything can be logged.");
  })
  .finally(showApp);
