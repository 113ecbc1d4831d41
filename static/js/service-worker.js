// The service worker: the athlete's pages and the files of a release without signal, and the outbox
// when there is signal again. It answers GETs only: whatever is sent, is sent by the outbox or by a
// form, never by this.
//
// /service-worker.js sets RELEASE and FILES and takes this in. A new release takes over at once:
// pages that are open have their scripts, and files of the release before stay as long as a kept
// page needs them, so nothing that is under way notices.

/* global RELEASE, FILES */
importScripts(...["idb", "outbox"].map((name) => FILES.find((file) => file.endsWith(`/js/${name}.js`))));

const { outbox } = globalThis.leverbook;

/** How long the network is waited for while there is a kept page to show instead. */
const PATIENCE = 2_500;
/** Where an athlete's pages are: the gym, and the page. */
const ATHLETES = new RegExp(`^/g/([0-9a-f-]{36})/(${outbox.PAGES.join("|")})$`);
/** Pages that are the same whatever is asked of them, or good enough when there is no signal. */
const ANY_QUERY = ["today", "train", "plan", "mine", "phone"];

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(sendOutbox());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (address.pathname.startsWith("/static/")) event.respondWith(file(request, address));
  else if (request.mode === "navigate") event.respondWith(page(event, address));
});

async function install() {
  const cache = await caches.open(outbox.filesOf(RELEASE));
  await cache.addAll(FILES);
  await cache.put(outbox.completeMark(RELEASE), new Response(""));
  await self.skipWaiting();
}

async function activate() {
  await self.clients.claim();
  await outbox.forgetOldFiles(RELEASE, { alsoParts: true });
}

/** A file never changes under its address. */
async function file(request, address) {
  const kept = await caches.match(address.pathname);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.status === 200) {
    const cache = await caches.open(outbox.filesOf(address.pathname.split("/")[2]));
    await cache.put(address.pathname, answer.clone());
  }
  return answer;
}

async function page(event, address) {
  const athletes = ATHLETES.exec(address.pathname);
  const answered = fromNetwork(event, address, athletes);
  event.waitUntil(answered);
  const kept = await keptPage(address, athletes);
  if (kept) {
    const answer = await Promise.race([answered, pause(PATIENCE)]);
    // A server that fails has no better page than the kept one.
    return answer && answer.status < 500 ? answer : kept;
  }
  return (await answered) ?? withoutSignal(address);
}

const pause = (milliseconds) => new Promise((resolve) => setTimeout(resolve, milliseconds));

/** What the server answers, kept if it is an athlete's page; undefined without signal. */
async function fromNetwork(event, address, athletes) {
  let answer;
  try {
    answer = await fetch(event.request);
  } catch {
    return undefined;
  }
  // The server shows this page to nobody who is signed in.
  if (address.pathname === "/sign-in" && answer.ok) event.waitUntil(outbox.leaveHere());
  if (athletes && answer.ok) event.waitUntil(keep(answer.clone(), address, athletes));
  return answer;
}

async function keep(answer, address, [, gym, name]) {
  const account = /name="leverbook-account" content="([^"]+)"/.exec(await answer.clone().text())?.[1];
  if (!account) return;
  await outbox.arriveHere(account, gym);
  // What a page says about what was just done is not kept, and a form is kept as it is at first.
  if (address.search && name !== "train") return;
  await outbox.keepPage(account, address.pathname, answer);
}

/** The kept page, if it is that of whoever is signed in here. */
async function keptPage(address, athletes) {
  if (!athletes || (address.search && !ANY_QUERY.includes(athletes[2]))) return undefined;
  const who = await outbox.here().catch(() => undefined);
  if (!who?.signed_in) return undefined;
  const cache = await caches.open(outbox.pagesOf(who.account));
  return cache.match(address.pathname);
}

async function withoutSignal(address) {
  const who = await outbox.here().catch(() => undefined);
  const today = who?.signed_in ? `/g/${who.gym}/today` : undefined;
  if (today && address.pathname === "/") return Response.redirect(today);
  const style = ["tokens", "page", "parts"]
    .map((name) => `<link rel="stylesheet" href="/static/${RELEASE}/css/${name}.css">`)
    .join("");
  const way = today
    ? `<p><a href="${today}">Today</a> and your plan open without signal.</p>`
    : "<p>Sign in again when there is signal.</p>";
  const body = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark">
<title>No signal · Leverbook</title>${style}</head><body><main class="page" id="content"><h1>No signal</h1>
<p>This page is not kept on this phone. What you logged here is safe, and is sent when there is signal.</p>${way}
</main></body></html>`;
  return new Response(body, {
    status: 503,
    headers: {
      "Content-Type": "text/html; charset=utf-8",
      "Content-Security-Policy": "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'",
    },
  });
}

/** Asked for by the browser when there is signal again. Fails, so as to be asked again, without. */
async function sendOutbox() {
  const who = await outbox.here();
  if (!who?.signed_in) return;
  const phone = outbox.open(who);
  await phone.send();
  if ((await phone.status()).problem === "no_signal") throw new Error("still no signal");
  await phone.carry({ renewed: true });
}
