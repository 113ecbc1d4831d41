// On every page of somebody who trains, and on the pages before signing in: registers the service
// worker, carries the book, says in a line what waits and what has arrived, shows Today as it is by
// now, and stands before signing out. Without a worker, a database or signal the page stays as the
// server sent it.

import { dayWords, element, hasNews, needsYou, sessions, titleOf, totalsOf, underWayWords } from "./words.js";

const outbox = globalThis.leverbook?.outbox;
const meta = (name) => document.querySelector(`meta[name="leverbook-${name}"]`)?.content;
/** Not on every click: a book this fresh is carried on. */
const BOOK_AGE = 60_000;
/** Changes within this time are told as one. */
const CALM = 500;

if (outbox) {
  const account = meta("account");
  const begun = account ? onAthletesPage(account, meta("gym")) : outsideTheGym();
  // Without a database in this browser, nothing is kept: every page still works with signal.
  begun.catch((error) => console.info("nothing is kept on this phone:", error.message));
}

async function onAthletesPage(account, gym) {
  // A kept page proves nothing about who is signed in.
  if (meta("kept") === undefined) await outbox.arriveHere(account, gym);
  const phone = outbox.open({ account, gym });
  standBeforeSignOut(phone);
  holdFormsWithoutSignal();
  const refresh = calmly(async () => {
    await showToday(phone);
    await showLine(phone);
    // What is shown waits for no answer: a bad line can keep one for half a minute.
    void carryIfDue(phone).then(() => followRelease(phone)).catch(() => {});
  });
  phone.onChange(refresh);
  for (const event of ["online", "offline"]) addEventListener(event, refresh);
  document.addEventListener("visibilitychange", refresh);
  // A page that stays open over midnight is shown for the new day.
  setInterval(refresh, BOOK_AGE);
  // Signed out in another tab, or put aside whole by the browser and brought back since.
  phone.onChange(async () => {
    if ((await outbox.here())?.account !== account) location.reload();
  });
  addEventListener("pageshow", async (event) => {
    const who = event.persisted ? await outbox.here() : undefined;
    if (event.persisted && (who?.account !== account || !who.signed_in)) location.reload();
  });
  await outbox.putOthersAway(account);
  await showToday(phone);
  await showLine(phone);
  await registerWorker(phone);
  navigator.storage?.persist?.().catch(() => {});
  await carryIfDue(phone);
  await followRelease(phone);
}

/** One run at a time; what comes while it runs is one run more. */
function calmly(work) {
  let timer;
  let running = Promise.resolve();
  return () => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      running = running.then(work).catch(() => {});
    }, CALM);
  };
}

async function registerWorker(phone) {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  try {
    if ((await workers.getRegistration())?.active) {
      // A new release has come with all its files: its pages may take the place of the old ones.
      workers.addEventListener("controllerchange", () => phone.carry().catch(() => {}));
    }
    await workers.register("/service-worker.js", { updateViaCache: "none" });
  } catch (error) {
    console.info("pages are not kept on this phone:", error.message);
  }
}

let triedFromHere = false;

/** One after the other: what the first has carried is not due any more. */
let carrying = Promise.resolve();

function carryIfDue(phone) {
  carrying = carrying.then(() => carryWhatIsDue(phone)).catch(() => {});
  return carrying;
}

async function carryWhatIsDue(phone) {
  if (document.visibilityState === "hidden") return;
  const { carried_at, reached } = await phone.status();
  const arrived = (await phone.entries()).some(({ state, in_book }) => state === "arrived" && !in_book);
  const age = Date.now() - carried_at;
  const fresh = !arrived && age >= 0 && age < BOOK_AGE;
  // A kept page is shown where the server does not answer, or not soon.
  if (fresh && reached && (triedFromHere || meta("kept") === undefined)) return;
  triedFromHere = true;
  // Without signal, what was carried before stays.
  await phone.carry({ renewed: arrived }).catch(() => {});
}

let releaseAskedFor = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1];

/** A new release comes with its worker; the page that is open goes on as it is. */
async function followRelease(phone) {
  const release = (await phone.carried())?.release;
  if (!release) return;
  await outbox.forgetOldFiles(release);
  if (release === releaseAskedFor) return;
  await (await navigator.serviceWorker?.getRegistration())?.update();
  releaseAskedFor = release;
}

// The line that says what waits.

let told = "";

async function showLine(phone) {
  const line = document.getElementById("outbox-line");
  if (!line) return;
  const records = await phone.entries();
  const status = await phone.status();
  const waiting = outbox.sessionsOf(records.filter(({ state }) => state === "waiting"));
  const need = outbox.sessionsOf(records.filter(needsYou));
  const news = outbox.sessionsOf(records.filter(hasNews));
  const arrived = records.some(({ arrived_at }) => arrived_at >= opened);
  const said = lineFor({ waiting, need, news, arrived, status });
  const text = said?.text ?? "";
  if (text === told) return;
  told = text;
  line.className = `outbox-line ${said?.look ?? ""}`;
  line.hidden = !said;
  line.replaceChildren(...(said ? [element("p", {}, text, " ", wayFrom(said, phone))] : []));
}

/** What has arrived since is told; what arrived before was told on another page. */
const opened = Date.now();

function lineFor({ waiting, need, news, arrived, status }) {
  if (!status.signed_in && waiting > 0) {
    const text = `You are signed out. ${sessions(waiting, "waits", "wait")} on this phone.`;
    return { look: "needs", text, way: "sign-in", them: waiting === 1 ? "it" : "them" };
  }
  if (need > 0) return { look: "needs", text: `${sessions(need, "needs", "need")} you.` };
  if (news > 0) return { look: "needs", text: `There is news about ${sessions(news)}.` };
  const noSignal = navigator.onLine === false || !status.reached;
  if (waiting > 0 && noSignal) {
    return { look: "waits", text: `No signal. ${sessions(waiting, "waits", "wait")} on this phone.` };
  }
  if (waiting > 0) {
    return { look: "waits", text: `${sessions(waiting, "waits", "wait")} to be sent.` };
  }
  if (noSignal) return { look: "waits", text: "No signal. Your plan is on this phone." };
  return arrived ? { look: "good", text: "All that was to be sent has arrived." } : null;
}

function wayFrom({ way, them }, phone) {
  if (way === "sign-in") {
    const next = encodeURIComponent(location.pathname + location.search);
    return element("a", { href: `/sign-in?next=${next}` }, `Sign in to send ${them}`);
  }
  if (location.pathname.endsWith("/phone")) return null;
  return element("a", { href: `/g/${phone.gym}/phone` }, "On this phone");
}

// Today, as it is by now.

async function showToday(phone) {
  if (!location.pathname.endsWith("/today")) return;
  const book = await phone.carried();
  const main = document.getElementById("content");
  const today = phone.today();
  const shown = main.querySelector("[data-day]")?.dataset.day;
  if (book && shown !== undefined && shown !== today) {
    const content = book.days[today];
    if (content) {
      // It was rendered by the server for this very place.
      main.innerHTML = content;
    } else if (!document.getElementById("old-day")) {
      const text = `This is the page of ${dayWords(shown)}. The plan on this phone goes no further: it is carried again when there is signal.`;
      main.prepend(element("div", { class: "notice caution", id: "old-day" }, element("p", {}, text)));
    }
  }
  showUnderWay(await phone.underway.all(), phone);
  showKept(main, await phone.entries(), book, phone);
  await showWaiting(main, book, phone);
}

/** What was begun and not finished is gone on with before anything else. */
function showUnderWay(underway, phone) {
  if (underway.length === 0) return document.getElementById("under-way")?.remove();
  const lines = underway.map((record) => {
    const { name, page } = underWayWords(record);
    const way = element("a", { class: "line", href: `/g/${phone.gym}/${page}` }, "Go on");
    return element("p", { dir: "auto" }, `Under way: ${name}. `, way);
  });
  renew(element("div", { id: "under-way", class: "notice" }, lines), [".notice > h2"]);
}

/**
 * Puts a part in the place of what it was before, below the head and what is to stand above it; leaves
 * it alone, and the focus in it, where nothing has changed.
 */
function renew(made, below) {
  const old = document.getElementById(made.id);
  if (old?.isEqualNode(made)) return;
  old?.remove();
  const main = document.getElementById("content");
  const above = below.map((one) => main.querySelector(one)?.closest(".notice")).find(Boolean);
  (above ?? main.querySelector(".page-head")).after(made);
}

const CLINICIAN = "If it is strong, sudden or does not go away, see a licensed clinician.";

/** What hurt is not begun again before the coach has looked: as the server shows it once it knows. */
async function showWaiting(main, book, phone) {
  const all = await phone.waits(null);
  const shown = document.getElementById("coach-first");
  if (!all) shown?.remove();
  else if (!shown && !main.querySelector(".notice > h2")) {
    const text = `You reported pain. Leave the clubs alone until your coach has spoken with you. ${CLINICIAN}`;
    const notice = element(
      "div",
      { class: "notice wrong-list", id: "coach-first", role: "status" },
      element("h2", {}, "Your coach wants to look first"),
      element("p", {}, text),
    );
    main.querySelector(".page-head").after(notice);
  }
  for (const card of main.querySelectorAll("section[data-planned]")) {
    const planned = book?.planned.find((one) => one.planned === card.dataset.planned);
    holdBack(card, await phone.waits(planned?.movement ?? null));
  }
}

/** Shows a planned session without the ways to begin it, or with them again. */
function holdBack(card, waits) {
  let notice = card.querySelector(".held-back");
  if (!notice) {
    // The server has held it back itself.
    if (!waits || card.querySelector(":scope > .wrong-list")) return;
    notice = element(
      "div",
      { class: "notice wrong-list held-back" },
      element("h3", {}, "Waits for your coach"),
      element("p", {}, `You reported pain, so this session waits until your coach has decided. ${CLINICIAN}`),
    );
    card.append(notice);
  }
  for (const part of card.children) {
    if (!part.matches("h2, .lead")) part.hidden = part === notice ? !waits : waits;
  }
}


/** What is kept here and planned on this page is no longer to do. */
function showKept(main, records, book, phone) {
  const newest = newestOfEach(records);
  const answered = new Set(newest.map(({ content }) => content.planned?.planned));
  const hidden = new Set();
  for (const card of main.querySelectorAll("[data-planned]")) {
    card.hidden = answered.has(card.dataset.planned);
    if (card.hidden) hidden.add(card.dataset.planned);
  }
  const shown = newest.filter((record) => outbox.isUnsent(record) || hidden.has(record.content.planned?.planned));
  if (shown.length === 0) return document.getElementById("kept-here")?.remove();
  const lines = shown.map((record) =>
    element(
      "li",
      { class: "name" },
      element("span", { dir: "auto" }, keptWords(record.content, book)),
      stateWords(record),
    ),
  );
  const kept = element(
    "section",
    { id: "kept-here", class: "sheet" },
    element("h2", {}, "Kept on this phone"),
    element("ul", {}, lines),
    element("p", {}, element("a", { class: "line", href: `/g/${phone.gym}/phone` }, "On this phone")),
  );
  renew(kept, ["#under-way", ".notice > h2"]);
}

const keptWords = (content, book) =>
  `${[titleOf(content, book), totalsOf(content), dayWords(content.on)].filter(Boolean).join(", ")}: `;

const stateWords = (record) =>
  needsYou(record) ? "needs you" : hasNews(record) ? "has arrived, and there is news" : record.state === "waiting" ? "waits to be sent" : "has arrived";

/** The newest entry of each session, without what was taken back or set aside. */
function newestOfEach(records) {
  const seen = new Set();
  return records.filter((record) => {
    if (record.state === "set_aside" || seen.has(record.content.session)) return false;
    seen.add(record.content.session);
    return !record.content.taken_back;
  });
}

// Forms need signal.

function holdFormsWithoutSignal() {
  document.addEventListener("submit", (event) => {
    if (navigator.onLine !== false || event.defaultPrevented) return;
    if (event.target.getAttribute("method") !== "post") return;
    event.preventDefault();
    tellInDialog(
      "No signal",
      "This form cannot be sent now. What you typed stays on this page: send it when there is signal.",
    );
  });
}

// Signing out.

function signOutForm() {
  return document.querySelector('form[action="/sign-out"]');
}

function standBeforeSignOut(phone) {
  const form = signOutForm();
  if (!form || !globalThis.HTMLDialogElement) return;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    beginSignOut(form, phone).catch(() => form.submit());
  });
}

async function beginSignOut(form, phone) {
  const { unsent, underway } = await phone.everything();
  if (unsent + underway === 0) return signOut(form, phone);
  askBeforeSignOut(form, phone, { unsent, underway });
}

function askBeforeSignOut(form, phone, { unsent, underway }) {
  const said = element("p", { role: "status" });
  const leaving = [
    unsent > 0 ? `${sessions(unsent, "is", "are")} not in the gym’s log yet.` : null,
    underway > 0 ? `${sessions(underway, "is", "are")} under way.` : null,
    "Signing out deletes everything of yours from this phone.",
  ];
  const send = async () => {
    said.textContent = "Sending…";
    await phone.send();
    const left = await phone.everything();
    if (left.unsent + left.underway === 0) return signOut(form, phone, dialog);
    const { problem } = await phone.status();
    said.textContent =
      left.unsent === 0
        ? "Everything that was finished has arrived. What is under way is only here: finish it first."
        : problem === "no_signal"
          ? `No signal: ${sessions(left.unsent, "is", "are")} still only on this phone.`
          : `${sessions(left.unsent, "is", "are")} still only on this phone. Look at “On this phone” for what is needed.`;
  };
  const dialog = openDialog(
    "Not everything is sent",
    [element("p", {}, leaving.filter(Boolean).join(" ")), said],
    [
      unsent > 0 ? ["Send first, then sign out", "main", send] : null,
      ["Stay signed in", "", () => dialog.close()],
      [`Sign out and delete ${sessions(unsent + underway)} for good`, "grave", () => signOut(form, phone, dialog)],
    ],
  );
}

/** Signs out on the server, then wipes this account from the phone. Without signal: nothing. */
async function signOut(form, phone, dialog) {
  let answer = await postSignOut(form);
  if (answer?.status === 403) {
    // The page was kept from before the last sign-in: its token is no longer good.
    const book = await phone.carry().catch(() => null);
    if (book) {
      form.elements.csrf.value = book.csrf;
      answer = await postSignOut(form);
    }
  }
  dialog?.close();
  if (!answer?.ok) {
    tellInDialog(
      "You are still signed in",
      "Signing out needs signal, so that nobody else can use your sign-in. Nothing was changed.",
    );
    return;
  }
  await outbox.wipe(phone.account);
  location.assign(answer.url);
}

async function postSignOut(form) {
  try {
    return await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  } catch {
    return null;
  }
}

const tellInDialog = (title, sentence) => {
  const dialog = openDialog(title, [element("p", {}, sentence)], [["Close", "main", () => dialog.close()]]);
};

/** A dialog that has the focus until it is closed, and gives it back then. */
function openDialog(title, content, buttons) {
  const dialog = element(
    "dialog",
    { class: "sheet ask", "aria-labelledby": "ask-title", onclose: () => dialog.remove() },
    element("h2", { id: "ask-title" }, title),
    content,
    element(
      "div",
      { class: "actions" },
      buttons
        .filter(Boolean)
        .map(([word, look, onclick]) => element("button", { type: "button", class: `button ${look}`, onclick }, word)),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

// Pages outside a gym: before signing in, one's account, the choice of gym.

async function outsideTheGym() {
  const who = await outbox.here();
  if (location.pathname !== "/sign-in") {
    if (who?.signed_in && signOutForm()) standBeforeSignOut(outbox.open(who));
    return;
  }
  // The server shows this page to nobody who is signed in.
  await outbox.leaveHere();
  const done = new URLSearchParams(location.search).get("done") ?? "";
  // Also "signed-out-everywhere", which asks nothing: what is unsent stays for its owner.
  if (who && done.startsWith("signed-out")) await outbox.putAway(who.account);
  const unsent = await outbox.unsentHere();
  if (unsent === 0) return;
  const sent =
    unsent === 1
      ? "It is sent when the person who logged it signs in here."
      : "They are sent when the person who logged them signs in here.";
  const text = `${sessions(unsent, "waits", "wait")} on this phone. ${sent}`;
  const notice = element("div", { class: "notice", role: "status" }, element("p", {}, text));
  document.querySelector("main h1").after(notice);
}
