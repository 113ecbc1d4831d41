// "On this phone": what waits, what has arrived, what needs its athlete, how a guided session
// signals, and how to have the pages as an app.

import {
  dayWords,
  element,
  facts,
  hasNews,
  instantWords,
  sessions,
  titleOf,
  totalsOf,
  underWayWords,
  workOf,
} from "./words.js";

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
    ...underWaySection(underway),
    ...records.filter(({ state }) => state === "changed_meanwhile").map((one) => conflict(one, book)),
    ...records.filter(({ state }) => state === "refused").map((one) => refused(one, book)),
    ...records.filter(hasNews).map((one) => news(one, book)),
    ...listSection("Waits to be sent", folded(records.filter(({ state }) => state === "waiting")), book, waitingLine),
    ...sendSection(records, status),
    ...listSection(
      "Arrived",
      folded(records.filter(({ state }) => state === "arrived")).slice(0, ARRIVED_LISTED),
      book,
      arrivedLine,
    ),
    ...listSection("Set aside", records.filter(({ state }) => state === "set_aside").map(alone), book, asideLine),
    contact(book, status),
  );
  for (const details of place.querySelectorAll("details")) {
    details.open = opened.has(details.dataset.key);
  }
  if (focused) place.querySelector(`[data-key="${focused}"]`)?.focus();
}

function underWaySection(underway) {
  if (underway.length === 0) return [];
  const lines = underway.map((record) => {
    const { name, page } = underWayWords(record);
    return element("li", {}, element("a", { class: "line", href: to(page) }, `${name}: go on`));
  });
  return [element("h2", {}, "Under way"), element("ul", { class: "plain-list" }, lines)];
}

function conflict(record, book) {
  const { newest, content } = record;
  const id = content.id;
  const by = newest.by === "you" ? "by you, on another phone or browser" : `by ${newest.by}`;
  const when = instantWords(Date.parse(newest.at), book?.zone);
  const log = facts(newest.entry ?? { taken_back: true }, book);
  const mine = facts(content, book);
  markDifferences(log, mine, workOf(content, book).length === 1);
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
      element("div", {}, element("h3", {}, "In the gym’s log now"), log),
      element("div", {}, element("h3", {}, "Yours, on this phone"), mine),
    ),
    untold(content, book),
    element(
      "div",
      { class: "actions" },
      button("Leave the gym’s log as it is", "", `leave-${id}`, async () => {
        await phone.leaveAsItIs(id);
        await settled("Yours is set aside. It stays readable below.");
      }),
      button("Use mine instead", "main", `mine-${id}`, async () => {
        await phone.putMineInItsPlace(id);
        await settled("Yours is sent as the newest version. The other one stays in the session’s history.");
      }),
    ),
  );
}

/** Marks the facts that only one of two versions has. Those of a single work then stand first. */
function markDifferences(one, other, first) {
  const texts = (list) => new Set(Array.from(list.children, (fact) => fact.textContent));
  const known = { one: texts(one), other: texts(other) };
  const mark = (list, others) => {
    const differ = Array.from(list.children).filter((fact) => !others.has(fact.textContent));
    for (const fact of differ) fact.firstElementChild.append(element("strong", {}, " (differs)"));
    if (first) list.prepend(...differ);
  };
  mark(one, known.other);
  mark(other, known.one);
}

/** What nobody is told of while it is only here. */
const untold = (content, book) =>
  outbox.tellsOfStop(content, book)
    ? element(
        "div",
        { class: "notice wrong-list" },
        element("p", {}, "Your coach does not know of this pain until it is in the gym’s log."),
      )
    : null;

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
    untold(content, book),
    details(record, book),
    element(
      "div",
      { class: "actions" },
      link("Change it", "main", `train?entry=${id}`),
      button("Leave it out of the gym’s log", "", `out-${id}`, async () => {
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

/** One card a session: its newest entry, and those that it has replaced. */
function folded(records) {
  const cards = new Map();
  for (const record of records) {
    const card = cards.get(record.content.session);
    if (card) card.before.push(record);
    else cards.set(record.content.session, alone(record));
  }
  return [...cards.values()];
}

const alone = (record) => ({ record, before: [] });

function listSection(title, cards, book, line) {
  if (cards.length === 0) return [];
  return [
    element("h2", {}, title),
    element("ul", { class: "plain-list kept-list" }, cards.map((card) => line(card, book))),
  ];
}

const details = (record, book, summary = "What was kept") =>
  element(
    "details",
    { "data-key": `details-${record.content.id}` },
    element("summary", { "data-key": `summary-${record.content.id}` }, summary),
    facts(record.content, book),
  );

const listed = ({ record, before }, book, said) =>
  element(
    "li",
    { class: "sheet" },
    element("p", { class: "name", dir: "auto" }, `${titleOf(record.content, book)}, ${dayWords(record.content.on)}`),
    ...[totalsOf(record.content), changes(before), said]
      .filter(Boolean)
      .map((words) => element("p", { class: "hint" }, words)),
    details(record, book),
    before.map((one) => details(one, book, "Before it was changed")),
  );

function changes({ length }) {
  if (length === 0) return null;
  return length === 1 ? "Changed once" : `Changed ${length} times`;
}

function waitingLine(card, book) {
  const { record } = card;
  const line = listed(card, book, kindOf(card));
  line.append(element("p", {}, element("a", { class: "line", href: to(`train?entry=${record.content.id}`) }, "Change it")));
  return line;
}

const arrivedLine = (card, book) =>
  listed(
    card,
    book,
    [kindOf(card), `Arrived ${instantWords(card.record.arrived_at + phone.now() - Date.now(), book?.zone)}`].filter(Boolean).join(" "),
  );
const asideLine = (card, book) =>
  listed(
    card,
    book,
    card.record.instead ? "Put right since: another version counts." : "Not in the gym’s log. Only on this phone.",
  );

/** What is said of a change whose first version is not on the card itself. */
function kindOf({ record: { content }, before }) {
  if (content.taken_back) return "Takes the session back.";
  return content.replaces === null || before.length > 0 ? null : "A change of a session that was logged before.";
}

function sendSection(records, { signed_in }) {
  const waiting = outbox.sessionsOf(records.filter(({ state }) => state === "waiting"));
  if (waiting === 0) return [];
  if (!signed_in) {
    const next = encodeURIComponent(location.pathname);
    const way = `Sign in to send ${waiting === 1 ? "it" : "them"}`;
    return [element("p", {}, element("a", { class: "button main", href: `/sign-in?next=${next}` }, way))];
  }
  const send = async () => {
    say("Sending…");
    await phone.send();
    await showEntries();
    const left = outbox.sessionsOf((await phone.entries()).filter(({ state }) => state === "waiting"));
    say(left === 0 ? "Sent." : `${sessions(left, "waits", "wait")} still: ${await whyNot()}`);
  };
  return [element("p", {}, button("Try to send now", "", "send", send))];
}

async function whyNot() {
  const { problem } = await phone.status();
  const reasons = {
    no_signal: "there is no signal, or the gym’s log does not answer.",
    signed_out: "you are signed out.",
    not_allowed: "the gym’s log takes no sessions from this sign-in. Ask your gym’s owner.",
    not_kept: "this browser’s storage does not answer. Open the page again.",
  };
  return reasons[problem] ?? "the gym’s log takes nothing now. It is tried again by itself.";
}

function contact(book, { contact_at, signed_in }) {
  const days = Object.keys(book?.days ?? {}).sort();
  const fact = (name, value) => element("div", {}, element("dt", {}, name), element("dd", {}, value));
  return element(
    "div",
    {},
    element("h2", {}, "Connection"),
    element(
      "dl",
      { class: "facts" },
      fact("Signed in", signed_in ? "yes" : "no"),
      fact("Last connection", contact_at ? instantWords(contact_at, book?.zone) : "none yet"),
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
    min: outbox.SHORTEST_LEAD_IN,
    max: 60,
    step: 1,
    value: String(settings.lead_in),
    "aria-describedby": "lead-in-hint lead-in-wrong",
  });
  const wrong = element("span", { class: "wrong", id: "lead-in-wrong", role: "alert" });
  lead.addEventListener("change", () => {
    const sound = lead.value !== "" && lead.checkValidity();
    lead.setAttribute("aria-invalid", String(!sound));
    const range = `a whole number from ${outbox.SHORTEST_LEAD_IN} to 60`;
    wrong.textContent = sound ? "" : `Write ${range}. It stays at ${settings.lead_in} seconds until then.`;
    if (!sound) return;
    settings.lead_in = Number(lead.value);
    kept("lead_in", settings.lead_in);
  });
  document.getElementById("phone-settings").replaceChildren(
    element("h2", {}, "Sound and light while training"),
    element(
      "div",
      { class: "fields" },
      element(
        "fieldset",
        { class: "field" },
        element("legend", {}, "Start, change of hands and rest are shown by"),
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
        wrong,
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
    : "Your training can stand on this phone as an app of its own. It opens without signal, and no app store is needed.";
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
        "Open your browser’s menu, or its Share menu, and choose to add this page to the home screen.",
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
