// The weekly review without page loads: decisions are sent as the forms stand, and the server answers
// with the athlete's part of the same page. Single keys do what the buttons do.

const week = () => document.getElementById("week");
const said = document.getElementById("week-said");
const keysBox = document.getElementById("week-keys-on");
const KEYS_SETTING = "leverbook-week-keys";
/** The headline that a part comes under: the server sends no whole page then. */
const PART = { "x-leverbook-part": "1" };
const PATIENCE_MS = 20_000;
/** A page that was looked at just now has hardly changed. */
const LOOKED_MS = 3_000;
const KEY_OF = { accept: "a", hold: "h", undo: "u" };

let current = null;
let lastDecided = null;
let lookedAt = Date.now();

const lines = () => [...document.querySelectorAll(".week-line")];
const lineOf = (element) => element?.closest?.(".week-line") ?? null;
const nameOf = (line) => line.querySelector("h3 bdi").textContent;
const button = (line, verdict) =>
  line.querySelector(`form.decide button[value="${verdict}"]:not(.unseen)`);
const say = (text) => {
  // The same words twice are told twice.
  said.textContent = "";
  requestAnimationFrame(() => {
    said.textContent = text;
  });
};

/* Keys: on unless switched off on this device. */

const storedKeys = () => {
  try {
    return localStorage.getItem(KEYS_SETTING);
  } catch {
    return null;
  }
};
const keysAreOn = () => keysBox.checked;

function showKeys(root) {
  for (const [verdict, key] of Object.entries(KEY_OF)) {
    for (const found of root.querySelectorAll(`form.decide button[value="${verdict}"]`)) {
      mark(found, key);
    }
  }
  for (const found of root.querySelectorAll(".week-change > summary")) mark(found, "c");
  for (const found of root.querySelectorAll(".week-why > summary")) mark(found, "o");
}

function mark(element, key) {
  element.querySelector("kbd")?.remove();
  if (!keysAreOn()) {
    element.removeAttribute("aria-keyshortcuts");
    return;
  }
  const shown = document.createElement("kbd");
  shown.ariaHidden = "true";
  shown.textContent = key;
  element.append(shown);
  element.setAttribute("aria-keyshortcuts", key);
}

keysBox.checked = storedKeys() !== "off";
keysBox.addEventListener("change", () => {
  try {
    localStorage.setItem(KEYS_SETTING, keysBox.checked ? "on" : "off");
  } catch {
    // Without storage it holds for this page.
  }
  showKeys(document);
  say(keysBox.checked ? "Single keys are on." : "Single keys are off.");
});

/* Where the coach is. */

function goTo(line) {
  current = line;
  line.focus({ preventScroll: true });
  const tall = line.getBoundingClientRect().height > innerHeight;
  line.scrollIntoView({ block: tall ? "start" : "nearest" });
}

document.addEventListener("focusin", (event) => {
  current = lineOf(event.target) ?? current;
});

function step(by) {
  const all = lines();
  if (all.length === 0) return;
  const at = current?.isConnected ? all.indexOf(current) : -1;
  if (at < 0) return goTo(all[0]);
  const next = all[at + by];
  if (next) goTo(next);
  else say(by > 0 ? "That was the last one." : "That is the first one.");
}

/** To the next who still needs a decision; from a steady one to the next steady one. */
function goOn(from, wasSteady, done) {
  const all = lines();
  const at = all.indexOf(from);
  const ahead = [...all.slice(at + 1), ...all.slice(0, at)];
  const waiting = ahead.find((line) => "waits" in line.dataset);
  const steady = ahead.find((line) => line.dataset.need === "steady");
  const next = wasSteady ? (steady ?? waiting) : (waiting ?? steady);
  if (!next) {
    goTo(from);
    return say(`${done} Everybody is decided.`);
  }
  goTo(next);
  const left = all.filter((line) => "waits" in line.dataset).length;
  say(`${done} ${left === 0 ? "Nobody else needs you." : `${left} left who need you.`}`);
}

/* Sending. */

/** What an answer that is no part says: a page of ours with a headline and a sentence. */
function wordsOf(html, status) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const title = page.querySelector("main h1")?.textContent.trim();
  const sentence = page.querySelector("main h1 ~ p")?.textContent.trim();
  return title && sentence
    ? [title, sentence]
    : ["It was not taken", `The server answered with ${status}. Try again in a minute.`];
}

async function send(action, body) {
  try {
    const answer = await fetch(action, {
      method: "POST",
      body,
      headers: PART,
      cache: "no-store",
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    return { status: answer.status, html: await answer.text() };
  } catch {
    return {
      status: 0,
      words: [
        "The server cannot be reached",
        "It may not have been taken. What you typed is still here; send it again when the connection is back: nothing is taken twice.",
      ],
    };
  }
}

/** A form was open while its coach signed in again: the page's new token goes into every form, as long
    as it is the same coach. */
async function takeNewToken() {
  try {
    const answer = await fetch(location.href, { cache: "no-store" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const who = (root) => root.querySelector('.account-links a[href="/account"]')?.textContent;
    if (!page.getElementById("week") || who(page) !== who(document)) return false;
    const token = page.querySelector('#week input[name="csrf"]')?.value;
    if (!token) return false;
    for (const field of document.querySelectorAll('input[name="csrf"]')) field.value = token;
    return true;
  } catch {
    return false;
  }
}

async function wordsForRefusal({ status, html, words }) {
  if (words) return words;
  const told = wordsOf(html, status);
  if (status !== 403) return told;
  return (await takeNewToken())
    ? ["You signed in again meanwhile", "Nothing was saved yet. Send it once more."]
    : told;
}

/** Says in place what went wrong; what was typed is left alone. */
function tell(form, [title, sentence], signedOut) {
  form.querySelector(":scope > .week-failed")?.remove();
  const notice = document.createElement("div");
  notice.className = "notice wrong-list week-failed";
  notice.setAttribute("role", "alert");
  const head = document.createElement("h4");
  head.textContent = title;
  const text = document.createElement("p");
  text.textContent = sentence;
  notice.append(head, text);
  if (signedOut) {
    const link = document.createElement("a");
    link.className = "line";
    link.href = "/sign-in";
    link.target = "_blank";
    link.rel = "noopener";
    link.textContent = "Sign in on another page";
    notice.append(link);
  }
  form.prepend(notice);
}

/** The article in an answer, ready to stand in the page. */
function articleIn(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html;
  return holder.content.querySelector(".week-line");
}

function put(article, old) {
  for (const kind of ["week-why", "week-before"]) {
    article.querySelector(`.${kind}`).open = old.querySelector(`.${kind}`).open;
  }
  old.replaceWith(article);
  if (current === old) current = article;
  if (lastDecided === old) lastDecided = article;
  showKeys(article);
  count();
}

/** The figures above and beside follow what stands in the page. */
function count() {
  for (const item of document.querySelectorAll("[data-count]")) {
    const of = lines().filter((line) => line.dataset.need === item.dataset.count);
    item.querySelector("strong").textContent = of.length;
  }
  const together = document.getElementById("accept-steady");
  if (together) {
    const many = document.querySelectorAll('input[name="steady"]').length;
    together.querySelector("[data-steady]").textContent = many;
    together.hidden = many === 0;
  }
}

async function decide(form, verdict) {
  const line = lineOf(form);
  if (line.ariaBusy === "true") return;
  const body = new URLSearchParams(new FormData(form));
  body.set("verdict", verdict);
  const was = document.activeElement;
  const wasSteady = line.dataset.need === "steady";
  line.ariaBusy = "true";
  const answer = await send(form.action, body);
  line.ariaBusy = null;
  const isPart = [200, 409, 422].includes(answer.status);
  const article = isPart ? articleIn(answer.html) : null;
  if (!article) {
    tell(form, await wordsForRefusal(answer), answer.status === 401);
    (line.contains(was) ? was : line).focus({ preventScroll: true });
    return;
  }
  const stayed = line.contains(document.activeElement) || document.activeElement === document.body;
  put(article, line);
  if (answer.status !== 200) {
    const field = article.querySelector("[aria-invalid]");
    const place = field ?? article.querySelector(".wrong-list");
    place?.focus();
    place?.scrollIntoView({ block: "nearest" });
    return;
  }
  lastDecided = article;
  const what =
    verdict === "undo" ? "Taken back." : `${article.querySelector(".decision strong").textContent}.`;
  const done = `${nameOf(article)}: ${what}`;
  if (verdict === "undo") {
    // The key takes back from wherever the coach went on to.
    if (!isField(document.activeElement)) goTo(article);
    return say(done);
  }
  if (!stayed) return say(done);
  goOn(article, wasSteady, done);
}

/** What concerns the week as a whole: the answer is the page, whose week takes the place of this one. */
async function act(form, name, value) {
  if (form.ariaBusy === "true") return;
  const names = value === "close" ? unsent() : "";
  if (names) {
    return tell(form, [
      "The week is still open",
      `What you typed for ${names} was not sent. Send it or clear it, then close the week.`,
    ]);
  }
  const body = new URLSearchParams(new FormData(form));
  body.set(name, value);
  form.ariaBusy = "true";
  const answer = await send(form.action, body);
  form.ariaBusy = null;
  const page = answer.html && new DOMParser().parseFromString(answer.html, "text/html");
  const fresh = page?.getElementById?.("week");
  if (!fresh) {
    tell(form, await wordsForRefusal(answer), answer.status === 401);
    return;
  }
  const typed = typedInto();
  week().replaceWith(document.adoptNode(fresh));
  current = null;
  lastDecided = null;
  giveBack(typed);
  showKeys(document);
  const done = page.querySelector("main > .notice.good")?.textContent.trim();
  if (done) say(done);
  const place =
    week().querySelector(".wrong-list") ?? week().querySelector(".week-summary") ?? lines()[0];
  if (place) {
    if (lineOf(place)) goTo(place);
    else place.focus();
    place.scrollIntoView({ block: "nearest" });
  }
}

const FIELDS = "input[type=text], select, textarea";

/** Whether something else stands in a field than when the page came. */
function isChanged(field) {
  if (!field.matches("select")) return field.value !== field.defaultValue;
  const first = field.querySelector("option[selected]") ?? field.options[0];
  return field.value !== first.value;
}

/** What stands in fields and was not sent, by field. */
function typedInto() {
  const fields = [...week().querySelectorAll(`.decide :is(${FIELDS})`)];
  return new Map(fields.filter(isChanged).map((field) => [field.id, field.value]));
}

/** Whose fields hold something that a closed week would have no place for. */
function unsent() {
  const names = [...typedInto().keys()].map((id) => nameOf(lineOf(document.getElementById(id))));
  return [...new Set(names)].join(", ");
}

function giveBack(typed) {
  for (const [id, value] of typed) {
    const field = document.getElementById(id);
    if (!field) continue;
    field.value = value;
    field.closest("details").open = true;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  const submitter = event.submitter;
  if (form.matches("form.decide") && submitter) {
    event.preventDefault();
    decide(form, submitter.value);
  } else if (form.matches("form.week-act") && submitter) {
    event.preventDefault();
    act(form, submitter.name, submitter.value);
  }
});

/* What others did meanwhile. */

function isTouched(line) {
  const fields = line.querySelectorAll(`.decide :is(${FIELDS})`);
  return (
    line.ariaBusy === "true" ||
    Boolean(document.activeElement.closest?.("input, select, textarea") && line.contains(document.activeElement)) ||
    [...fields].some(isChanged)
  );
}

function markChanged(line, fresh) {
  line.querySelector(".week-meanwhile")?.remove();
  const text = document.createElement("p");
  text.className = "week-meanwhile";
  const word = document.createElement("strong");
  word.textContent = "Changed meanwhile";
  text.append(word);
  if (fresh) {
    const decision = fresh.querySelector(".decision")?.textContent.trim();
    text.append(`: ${decision ?? fresh.querySelector(".hint")?.textContent.trim() ?? ""} What you typed is still here.`);
  }
  line.querySelector(".week-what > header").after(text);
}

async function lookAgain() {
  if (document.visibilityState !== "visible" || Date.now() - lookedAt < LOOKED_MS) return;
  lookedAt = Date.now();
  let page;
  try {
    const answer = await fetch(location.href.split("#")[0], {
      headers: { "if-none-match": `"${week().dataset.stamp}"` },
      cache: "no-store",
    });
    if (answer.status !== 200) return;
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return;
  }
  const fresh = page.getElementById("week");
  if (!fresh) return;
  week().dataset.stamp = fresh.dataset.stamp;
  const changed = [];
  for (const line of lines()) {
    const now = fresh.querySelector(`#${CSS.escape(line.id)}`);
    if (!now || now.dataset.stamp === line.dataset.stamp) continue;
    changed.push(nameOf(line));
    if (isTouched(line)) {
      markChanged(line, now);
      continue;
    }
    const hadFocus = line.contains(document.activeElement);
    const article = document.adoptNode(now);
    put(article, line);
    markChanged(article, null);
    if (hadFocus) goTo(article);
  }
  if (changed.length > 0) say(`Changed meanwhile: ${changed.join(", ")}.`);
}

document.addEventListener("visibilitychange", lookAgain);
addEventListener("focus", lookAgain);

/* Keys. */

function press(line, verdict) {
  const found = button(line, verdict);
  if (found) decide(found.form, verdict);
  else if (line.querySelector("form.decide")) {
    say(`${nameOf(line)} is decided. Take it back first, or change it.`);
  } else say("This week takes no decisions as it is.");
}

function openForm(line, field) {
  const details = line.querySelector(".week-change");
  if (!details) return say("This week takes no decisions as it is.");
  details.open = true;
  const place = details.querySelector(`[name="${field}"]`);
  place.focus();
  place.scrollIntoView({ block: "nearest" });
}

function takeBack() {
  const here = current && button(current, "undo") ? current : lastDecided;
  if (here?.isConnected && button(here, "undo")) decide(button(here, "undo").form, "undo");
  else say("There is no decision to take back.");
}

function toggle(line) {
  const why = line.querySelector(".week-why");
  const open = !why.open;
  why.open = open;
  line.querySelector(".week-before").open = open;
  say(`${nameOf(line)}: ${open ? "opened" : "closed"}.`);
}

function toPlace(selector, otherwise) {
  const place = week().querySelector(selector);
  if (!place) return say(otherwise);
  place.focus();
  place.scrollIntoView({ block: "center" });
}

const onLine = (what) => () => {
  if (!current?.isConnected) step(1);
  else what(current);
};

const DOES = {
  n: () => step(1),
  p: () => step(-1),
  o: onLine(toggle),
  a: onLine((line) => press(line, "accept")),
  h: onLine((line) => press(line, "hold")),
  c: onLine((line) => openForm(line, "step")),
  w: onLine((line) => openForm(line, "note")),
  u: takeBack,
  s: () => toPlace("#accept-steady:not([hidden]) button", "There is nothing to accept together."),
  e: () => toPlace(".week-close button, .week-summary button", "This week is not decided here."),
};

const isField = (element) =>
  element.isContentEditable || element.matches("input:not([type=checkbox]), select, textarea");

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  if (isField(event.target)) {
    const line = lineOf(event.target);
    if (event.key === "Escape" && line) goTo(line);
    return;
  }
  if (!keysAreOn() || event.shiftKey || event.repeat || !(event.key in DOES)) return;
  event.preventDefault();
  DOES[event.key]();
});

const keysList = document.getElementById("week-keys");
keysList.hidden = lines().length === 0;
// On a phone there is mostly no keyboard: the list is there, and folded.
keysList.open = matchMedia("(min-width: 40rem)").matches;
showKeys(document);
count();
