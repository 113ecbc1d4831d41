// The outbox of an athlete's phone: keeps what was logged, durably, before anything is said to be
// kept, and sends it to the server in order, exactly once, whenever there is a way to it. It also
// keeps the carried book (the next two weeks), the guided session under way, and the settings.
//
// A classic script, since it also runs in service workers that take no modules. It needs idb.js
// before it and makes `globalThis.leverbook.outbox`.
//
// Each account has a database of its own, `leverbook-{account}`; `leverbook` only knows which
// accounts have one and who uses this phone now. Once sent, an entry is never sent with other
// content under the same id; what the server has never taken may still be given another day or
// another place in its session's history.

(() => {
  "use strict";

  const SHARED = "leverbook";
  const PAGES = ["today", "train", "plan", "mine", "phone", "log/new"];
  const HOUR = 3_600_000;
  const DAY = 24 * HOUR;
  /** A clock that moved by more than this between keeping and sending may have given a wrong day. */
  const CLOCK_JUMP = 12 * HOUR;
  /** Pauses between attempts: doubled each time, from the first to the longest. */
  const FIRST_PAUSE = 2_000;
  const LONGEST_PAUSE = 5 * 60_000;
  /** After this many failures of the server over one entry, the others no longer wait behind it. */
  const HOPELESS_AFTER = 5;
  /** How long an answer is waited for. The server gives up after 30 s itself. */
  const PATIENCE = 35_000;
  /** How long a kept page counts as fresh. */
  const PAGE_AGE = HOUR / 2;
  /** How long what has arrived stays readable on the phone. */
  const ARRIVED_STAYS = 30 * DAY;
  const STRICT = { durability: "strict" };
  const PAIN_STOP = 4;
  /** Seconds to get both hands on a club, at least. */
  const SHORTEST_LEAD_IN = 3;
  const SETTINGS = { sound: true, vibration: true, colour: true, words: true, lead_in: 10 };
  /** States of an entry that is not on the server and for which nothing was decided yet. */
  const UNSENT = ["waiting", "changed_meanwhile", "refused"];

  const databaseOf = (account) => `leverbook-${account}`;
  const pagesOf = (account) => `leverbook-pages-${account}`;
  const filesOf = (release) => `leverbook-files-${release}`;
  /** Stands in a release's cache once every file of it is there. */
  const completeMark = (release) => `/static/${release}/complete`;
  const releasesIn = (page) => new Set(Array.from(page.matchAll(/\/static\/([^/"]+)\//g), (m) => m[1]));

  // Databases. A connection is given up when another tab deletes the database, and opened anew when
  // it is needed again.

  const connections = new Map();

  function database(name, upgrade) {
    if (!connections.has(name)) {
      const forget = () => connections.delete(name);
      const opened = globalThis.idb.openDB(name, 1, {
        upgrade,
        blocking: (_have, _want, event) => {
          forget();
          event.target.close();
        },
        terminated: forget,
      });
      opened.catch(forget);
      connections.set(name, opened);
    }
    return connections.get(name);
  }

  const shared = () =>
    database(SHARED, (db) => {
      db.createObjectStore("accounts", { keyPath: "account" });
      db.createObjectStore("here");
    });

  /** Accounts that were wiped while this page was open: it must not make their database anew. */
  const gone = new Set();

  const ofAccount = async (account) => {
    if (gone.has(account)) throw new Error("signed out");
    return database(databaseOf(account), (db) => {
      db.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
      db.createObjectStore("books", { keyPath: "gym" });
      db.createObjectStore("underway", { keyPath: ["gym", "key"] });
      db.createObjectStore("notes");
    });
  };

  async function removeDatabase(account) {
    const name = databaseOf(account);
    const open = connections.get(name);
    connections.delete(name);
    if (open) (await open).close();
    await globalThis.idb.deleteDB(name);
  }

  // Who uses this phone.

  /** {account, gym, signed_in} of whoever's page was loaded last, or undefined. */
  const here = async () => (await shared()).get("here", "who");

  /** A page of this account came from the server: it is signed in here. */
  async function arriveHere(account, gym) {
    gone.delete(account);
    const tx = (await shared()).transaction(["accounts", "here"], "readwrite");
    tx.objectStore("accounts").put({ account });
    tx.objectStore("here").put({ account, gym, signed_in: true }, "who");
    await tx.done;
  }

  /** The server no longer knows the sign-in, or another account has it. */
  async function leaveHere(account) {
    const tx = (await shared()).transaction("here", "readwrite");
    const who = await tx.store.get("who");
    const leaves = who?.signed_in && (account === undefined || who.account === account);
    if (leaves) tx.store.put({ ...who, signed_in: false }, "who");
    await tx.done;
    if (leaves) tell(who.account);
  }

  const accountsHere = async () => (await (await shared()).getAllKeys("accounts")).map(String);

  async function forgetAccount(account) {
    const tx = (await shared()).transaction(["accounts", "here"], "readwrite");
    tx.objectStore("accounts").delete(account);
    if ((await tx.objectStore("here").get("who"))?.account === account) {
      tx.objectStore("here").delete("who");
    }
    await tx.done;
  }

  /** Whether an entry is kept here and not in the gym's log, with nothing decided about it. */
  const isUnsent = (record) => UNSENT.includes(record.state);

  /** How many sessions these entries are of. */
  const sessionsOf = (records) => new Set(records.map(({ content }) => content.session)).size;

  /** How many sessions are unsent, or have a change that is. */
  const unsentSessions = (records) => sessionsOf(records.filter(isUnsent));

  /** Whether an entry tells of pain at which training stops, by the book or, without one, by rule L1. */
  const tellsOfStop = ({ pain, taken_back }, book) =>
    !taken_back && pain.some(({ score }) => score >= (book?.pain_stop ?? PAIN_STOP));

  /** How many sessions of any account wait here. Tells no more than the number. */
  async function unsentHere() {
    let unsent = 0;
    for (const account of await accountsHere()) {
      unsent += unsentSessions(await (await ofAccount(account)).getAll("entries"));
    }
    return unsent;
  }

  const forgetPages = async (account) => {
    if (globalThis.caches) await caches.delete(pagesOf(account));
  };

  /** Deletes everything of an account, what is unsent too. */
  async function wipe(account) {
    gone.add(account);
    channel?.postMessage({ account, wiped: true });
    await forgetPages(account);
    await removeDatabase(account);
    await forgetAccount(account);
  }

  /** Deletes what an account carried. What it has not sent yet stays for its owner. */
  async function putAway(account) {
    await forgetPages(account);
    const db = await ofAccount(account);
    const tx = db.transaction(["entries", "books", "underway", "notes"], "readwrite", STRICT);
    tx.objectStore("books").clear();
    const entries = tx.objectStore("entries");
    const kept = await entries.getAll();
    const underway = await tx.objectStore("underway").count();
    const done = kept.filter((record) => !isUnsent(record));
    for (const record of done) entries.delete(record.order);
    await tx.done;
    if (done.length === kept.length && underway === 0) {
      await removeDatabase(account);
      await forgetAccount(account);
    }
  }

  async function putOthersAway(account) {
    for (const other of await accountsHere()) {
      if (other !== account) await putAway(other);
    }
    if (!globalThis.caches) return;
    for (const name of await caches.keys()) {
      if (name.startsWith(pagesOf("")) && name !== pagesOf(account)) await caches.delete(name);
    }
  }

  // Changes are told to every page of this phone, and by its service worker to its pages. A message
  // names the account and nothing else.

  const listeners = new Set();
  const channel = globalThis.BroadcastChannel ? new BroadcastChannel("leverbook") : null;
  const heard = (account) => listeners.forEach((listener) => listener(account));
  if (channel) {
    channel.onmessage = ({ data: { account, wiped } }) => {
      if (wiped) gone.add(account);
      heard(account);
    };
  }

  function tell(account) {
    channel?.postMessage({ account });
    heard(account);
  }

  // Kept pages.

  /**
   * Keeps a page that the server gave, for times without signal. A page of a release of which not
   * every file is here yet takes no older page's place. Returns whether it was kept.
   */
  async function keepPage(account, address, answer) {
    if (!answer.ok || !globalThis.caches) return false;
    const page = await answer.text();
    if (!page.includes(`name="leverbook-account" content="${account}"`)) return false;
    const cache = await caches.open(pagesOf(account));
    for (const release of releasesIn(page)) {
      const whole = await caches.match(completeMark(release));
      if (!whole && (await cache.match(address))) return false;
    }
    const headers = new Headers(answer.headers);
    for (const name of ["content-encoding", "content-length"]) headers.delete(name);
    headers.set("leverbook-kept", String(Date.now()));
    // The page can tell that it is a kept one.
    if (gone.has(account)) return false;
    const marked = page.replace("</head>", '<meta name="leverbook-kept" content="yes"></head>');
    await cache.put(address, new Response(marked, { headers }));
    return true;
  }

  /** What is being carried: two scripts of a page that ask at the same time are given the same. */
  const carrying = new Map();

  async function keepPages(account, gym, { release, renewed }) {
    if (!globalThis.caches) return;
    const cache = await caches.open(pagesOf(account));
    for (const page of PAGES) {
      const address = `/g/${gym}/${page}`;
      const kept = await cache.match(address);
      if (kept && !renewed) {
        const age = Date.now() - Number(kept.headers.get("leverbook-kept"));
        const current = releasesIn(await kept.text()).has(release);
        if (current && age >= 0 && age < PAGE_AGE) continue;
      }
      const answer = await fetch(address, {
        headers: { Accept: "text/html" },
        cache: "no-store",
      });
      if (isSignedOut(answer)) return leaveHere(account);
      if (!answer.redirected) await keepPage(account, address, answer);
    }
  }

  /**
   * Deletes the files of releases other than the one in use, of which no kept page needs any. A
   * release that is not whole may be on its way in, and is left alone but by a worker that begins.
   */
  async function forgetOldFiles(inUse, { alsoParts = false } = {}) {
    const names = globalThis.caches ? await caches.keys() : [];
    const releases = names.filter((name) => name.startsWith(filesOf("")));
    if (releases.length < 2) return;
    const needed = new Set([filesOf(inUse)]);
    for (const name of names.filter((name) => name.startsWith(pagesOf("")))) {
      const cache = await caches.open(name);
      for (const address of await cache.keys()) {
        const page = await cache.match(address);
        for (const release of releasesIn((await page?.text()) ?? "")) needed.add(filesOf(release));
      }
    }
    for (const name of releases.filter((name) => !needed.has(name))) {
      const whole = await caches.match(completeMark(name.slice(filesOf("").length)));
      if (whole || alsoParts) await caches.delete(name);
    }
  }

  /** Whether an answer says that nobody is signed in. A page answers so by leading to sign-in. */
  const isSignedOut = (answer) =>
    answer.status === 401 || (answer.redirected && new URL(answer.url).pathname === "/sign-in");

  // Sending.

  class Unreachable extends Error {}

  async function ask(address, options) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const answer = await fetch(address, {
        credentials: "same-origin",
        cache: "no-store",
        signal: stop.signal,
        ...options,
        headers: { Accept: "application/json", ...options?.headers },
      });
      return { status: answer.status, signedOut: isSignedOut(answer), body: parsed(await answer.text()) };
    } catch (error) {
      throw new Unreachable("no answer from the server", { cause: error });
    } finally {
      clearTimeout(timer);
    }
  }

  function parsed(text) {
    try {
      return JSON.parse(text);
    } catch {
      return null;
    }
  }

  /** One at a time among all the tabs of this phone and its worker, where it has locks. */
  const alone = (name, work) => (globalThis.navigator?.locks ? navigator.locks.request(name, work) : work());

  /** A UUIDv7 (RFC 9562, 5.7): milliseconds, then chance. */
  function uuid7(milliseconds) {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    new DataView(bytes.buffer).setUint16(0, Math.floor(milliseconds / 2 ** 32));
    new DataView(bytes.buffer).setUint32(2, milliseconds % 2 ** 32);
    bytes[6] = 0x70 | (bytes[6] & 0x0f);
    bytes[8] = 0x80 | (bytes[8] & 0x3f);
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  /** The day at an instant in a zone, as YYYY-MM-DD. Without a zone: the phone's own. */
  function dayAt(milliseconds, zone) {
    const parts = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone,
      calendar: "gregory",
      numberingSystem: "latn",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
    }).formatToParts(milliseconds);
    const part = (kind) => parts.find(({ type }) => type === kind).value;
    return `${part("year").padStart(4, "0")}-${part("month")}-${part("day")}`;
  }

  // An entry's place in its session's history.

  /** The record that an id means now: it may have been given another id, or been put right. */
  function standsFor(records, id) {
    const found = records.find((record) => record.content.id === id || record.was.includes(id));
    return found?.instead ? standsFor(records, found.instead) : found;
  }

  /** Gives content the place in the history that another had. */
  function placed(content, { replaces, session }) {
    return { ...content, replaces, session: replaces === null ? content.id : session };
  }

  /** The content of a new entry with the place in the history that it is meant to have. */
  function fitted(content, before) {
    if (!before) return content;
    // What the server refused never was: the new entry stands where that would have stood.
    if (before.state === "refused") return placed(content, before.content);
    if (before.state === "set_aside") {
      const { session, revision } = before.newest ?? {};
      return placed(content, before.newest ? { replaces: revision, session } : before.content);
    }
    return placed(content, { replaces: before.content.id, session: before.content.session });
  }

  /** Whoever was to follow `old` follows `record` from now on. */
  function followOn(records, old, record) {
    const changed = [];
    for (const follower of records) {
      if (follower.content.replaces !== old || follower === record) continue;
      follower.content = placed(follower.content, {
        replaces: record.content.id,
        session: record.content.session,
      });
      changed.push(follower, ...followOn(records, follower.content.id, follower));
    }
    return changed;
  }

  /** Gives an entry that the server never took another id, and its followers their new place. */
  function underNewId(records, record, id) {
    const old = record.content.id;
    record.was.push(old);
    record.content = placed({ ...record.content, id }, record.content);
    return [record, ...followOn(records, old, record)];
  }

  class Phone {
    #account;
    #gym;
    #skew = 0;
    #zone;
    #ready;
    #running = null;
    #again = false;
    #failures = 0;
    #timer;

    constructor(account, gym) {
      this.#account = account;
      this.#gym = gym;
      this.#ready = this.#db().then(async (db) => this.#setClock(await db.get("books", gym)));
      // Whoever needs the database is told when they ask for something.
      this.#ready.catch(() => {});
      listeners.add((changed) => {
        if (changed === account) this.#refresh().catch(() => {});
      });
    }

    get account() {
      return this.#account;
    }

    get gym() {
      return this.#gym;
    }

    #db() {
      return ofAccount(this.#account);
    }

    #setClock(kept) {
      if (!kept) return;
      this.#skew = kept.skew;
      this.#zone = kept.book.zone;
    }

    async #refresh() {
      this.#setClock(await (await this.#db()).get("books", this.#gym));
    }

    /** Milliseconds since the epoch, by what the server said last. Right after the first await. */
    now() {
      return Date.now() + this.#skew;
    }

    /** The gym's day. */
    today() {
      return dayAt(this.now(), this.#zone);
    }

    newId() {
      return uuid7(this.now());
    }

    /** The carried book, or null. */
    async carried() {
      await this.#ready;
      const kept = await (await this.#db()).get("books", this.#gym);
      this.#setClock(kept);
      return kept?.book ?? null;
    }

    /** Fetches the book and keeps it, and the pages with it. Throws without signal or sign-in. */
    async carry({ renewed = false } = {}) {
      const whose = `${this.#account} ${this.#gym}`;
      const before = renewed ? undefined : carrying.get(whose);
      if (before) return before;
      const now = this.#carry(renewed).finally(() => {
        if (carrying.get(whose) === now) carrying.delete(whose);
      });
      carrying.set(whose, now);
      return now;
    }

    async #carry(renewed) {
      await this.#ready;
      const book = await this.#fetchBook(this.#gym, { whole: false });
      if (!book) throw new Error("nothing to carry: signed out, or not understood");
      await keepPages(this.#account, this.#gym, { release: book.release, renewed });
      const tx = (await this.#db()).transaction("books", "readwrite");
      const kept = await tx.store.get(this.#gym);
      if (kept) tx.store.put({ ...kept, whole: true });
      await tx.done;
      return book;
    }

    /** The book from the server, kept; null if there is none for this account. */
    async #fetchBook(gym, { whole } = {}) {
      const arrived = await this.#arrivedBefore();
      const asked = performance.now();
      const { status, signedOut, body } = await this.#reach(() => ask(`/g/${gym}/carry`));
      if (signedOut || (status === 200 && body?.account !== undefined && body.account !== this.#account)) {
        await leaveHere(this.#account);
        return null;
      }
      if (status !== 200 || body?.format !== 1) return null;
      const carried_at = Date.now();
      // How long the answer took is told by a clock that nobody sets meanwhile.
      const onItsWay = (performance.now() - asked) / 2;
      const skew = Math.round(Date.parse(body.now) - (carried_at - onItsWay));
      const tx = (await this.#db()).transaction(["books", "entries"], "readwrite", STRICT);
      const books = tx.objectStore("books");
      // Whether the pages were kept since is known of the book before.
      const before = whole ?? (await books.get(gym))?.whole ?? false;
      books.put({ gym, book: body, skew, carried_at, whole: before });
      const entries = tx.objectStore("entries");
      for (const record of await entries.getAll()) {
        if (record.gym !== gym) continue;
        const known = this.#afterContact(record, skew, carried_at);
        const in_book = arrived.has(record.order);
        if (known === null) entries.delete(record.order);
        else if (known !== record || in_book !== Boolean(record.in_book)) entries.put({ ...known, in_book });
      }
      await tx.done;
      if (gym === this.#gym) this.#setClock({ book: body, skew });
      tell(this.#account);
      return body;
    }

    /** What a book asked for now will know of, whatever the clocks say. */
    async #arrivedBefore() {
      const records = await (await this.#db()).getAll("entries");
      return new Set(records.filter(({ state }) => state === "arrived").map(({ order }) => order));
    }

    /** Asks the server, and notes whether there was a way to it. */
    async #reach(asking) {
      try {
        const answer = await asking();
        await this.#note({ contact_at: Date.now(), reached: true });
        return answer;
      } catch (error) {
        if (error instanceof Unreachable) await this.#note({ reached: false });
        throw error;
      }
    }

    /** What a contact with the server tells of an entry; null: it need not be kept longer. */
    #afterContact(record, skew, now) {
      if (record.state === "arrived" && now - record.arrived_at > ARRIVED_STAYS) return null;
      if (record.clock_known) return record;
      const jumped = Math.abs(skew - record.skew) > CLOCK_JUMP;
      const doubtful = jumped && record.day_by === "phone" && !record.day_moved_from;
      const changed = doubtful && !record.ask_day ? { ask_day: true, noted: false } : {};
      return { ...record, ...changed, clock_known: record.state === "arrived" };
    }

    /**
     * Keeps an entry. When this resolves it is on the phone's disk; it is sent soon after. An entry
     * that is kept already is kept once. Returns its record, with the place in its session's
     * history that it was given.
     */
    async keep(content, { dayBy = "athlete", dropping } = {}) {
      await this.#ready;
      const tx = (await this.#db()).transaction(["entries", "underway"], "readwrite", STRICT);
      const entries = tx.objectStore("entries");
      const records = await entries.getAll();
      let record = standsFor(records, content.id);
      if (!record) {
        const before = content.replaces === null ? undefined : standsFor(records, content.replaces);
        record = {
          gym: this.#gym,
          content: fitted(content, before),
          state: "waiting",
          day_by: dayBy,
          kept_at: this.now(),
          skew: this.#skew,
          failures: 0,
          was: [],
        };
        record.order = await entries.add(record);
        if (before?.state === "refused" || before?.state === "set_aside") {
          entries.put({ ...before, state: "set_aside", instead: content.id });
          // Whoever followed the refused one follows what was put in its place.
          for (const follower of followOn(records, before.content.id, record)) entries.put(follower);
        }
      }
      if (dropping !== undefined) tx.objectStore("underway").delete([this.#gym, dropping]);
      await tx.done;
      tell(this.#account);
      askForSync();
      void this.send();
      return record;
    }

    /**
     * Whether work with a movement waits for the coach because something hurt; with null, whether all work
     * does. By the book, and by what was kept here and the book does not know of yet.
     */
    async waits(movement) {
      const records = await this.entries();
      const kept = await (await this.#db()).get("books", this.#gym);
      const said = kept?.book.waiting;
      if (said?.all || said?.movements.includes(movement)) return true;
      const about = ({ content }) => [...new Set(content.sets.map((set) => set.movement))];
      return records.some((record) => {
        if (record.state === "set_aside" || record.in_book) return false;
        if (!tellsOfStop(record.content, kept?.book)) return false;
        const replaces = ({ state, content }) =>
          state !== "set_aside" && content.replaces === record.content.id;
        if (records.some(replaces)) return false;
        const movements = about(record);
        return movements.length !== 1 || movements[0] === movement;
      });
    }

    /** Every entry of this gym on this phone, newest first. */
    async entries() {
      await this.#ready;
      const records = await (await this.#db()).getAll("entries");
      return records.filter((record) => record.gym === this.#gym).reverse();
    }

    /** A guided session under way, by the planned session's id or "free". */
    underway = {
      read: async (key) => {
        await this.#ready;
        return (await (await this.#db()).get("underway", [this.#gym, key]))?.value ?? null;
      },
      write: async (key, value) => {
        const tx = (await this.#db()).transaction("underway", "readwrite", STRICT);
        tx.store.put({ gym: this.#gym, key, value, changed_at: this.now() });
        await tx.done;
      },
      drop: async (key) => {
        const tx = (await this.#db()).transaction("underway", "readwrite", STRICT);
        tx.store.delete([this.#gym, key]);
        await tx.done;
      },
      all: async () => {
        await this.#ready;
        const all = await (await this.#db()).getAll("underway");
        return all.filter(({ gym }) => gym === this.#gym);
      },
    };

    async settings() {
      await this.#ready;
      const settings = { ...SETTINGS, ...(await (await this.#db()).get("notes", "settings")) };
      return { ...settings, lead_in: Math.max(SHORTEST_LEAD_IN, settings.lead_in) };
    }

    async set(name, value) {
      const tx = (await this.#db()).transaction("notes", "readwrite", STRICT);
      tx.store.put({ ...(await tx.store.get("settings")), [name]: value }, "settings");
      await tx.done;
      tell(this.#account);
    }

    /**
     * {carried_at, signed_in, contact_at, reached, problem}: when the book was carried with all pages,
     * by the phone's own clock; when the server last answered; whether it did when it was last asked;
     * and what stopped the sending, if anything did.
     */
    async status() {
      await this.#ready;
      const db = await this.#db();
      const who = await here();
      const kept = await db.get("books", this.#gym);
      const sent = await db.get("notes", "sending");
      return {
        carried_at: kept?.whole ? kept.carried_at : 0,
        signed_in: who?.account === this.#account && who.signed_in,
        contact_at: sent?.contact_at ? sent.contact_at + this.#skew : null,
        reached: sent?.reached ?? true,
        problem: sent?.problem ?? null,
      };
    }

    /** How many sessions of this account are only on this phone, in whichever gym. */
    async everything() {
      const db = await this.#db();
      const unsent = unsentSessions(await db.getAll("entries"));
      return { unsent, underway: await db.count("underway") };
    }

    onChange(listener) {
      listeners.add((changed) => {
        if (changed === this.#account) listener();
      });
    }

    /** It is decided: the log stays as it is, and what was kept here is set aside. */
    async leaveAsItIs(id) {
      await this.#decide(id, (records, record) => {
        const aside = [record];
        for (const one of aside) {
          one.state = "set_aside";
          one.newest ??= record.newest;
          aside.push(...records.filter((other) => other.content.replaces === one.content.id));
        }
        return aside;
      });
    }

    /** A conflict is decided: what was kept here becomes the newest version of the session. */
    async putMineInItsPlace(id) {
      await this.#decide(id, (records, record) => {
        const { session, revision } = record.newest;
        record.content = { ...record.content, replaces: revision, session };
        record.state = "waiting";
        delete record.newest;
        return underNewId(records, record, this.newId());
      });
      await this.send();
    }

    /** What was said about an entry was read: a day that was moved or asked about, a changed plan. */
    async noted(id) {
      await this.#decide(id, (_records, record) => {
        record.noted = true;
        return [record];
      });
    }

    async #decide(id, change) {
      const tx = (await this.#db()).transaction("entries", "readwrite", STRICT);
      const records = await tx.store.getAll();
      const record = standsFor(records, id);
      if (record) for (const changed of change(records, record)) tx.store.put(changed);
      await tx.done;
      tell(this.#account);
    }

    /** Tries to send now, whatever pause was begun. Resolves when this attempt is over. */
    send() {
      clearTimeout(this.#timer);
      if (this.#running) {
        // Something may have been kept after the run under way last looked.
        this.#again = true;
        return this.#running.then(() => this.#running ?? undefined);
      }
      this.#running = this.#sendAll().finally(() => {
        this.#running = null;
        if (this.#again) void this.send();
      });
      return this.#running;
    }

    async #sendAll() {
      let problem;
      this.#again = false;
      try {
        await this.#ready;
        problem = await alone(databaseOf(this.#account), () => this.#run());
      } catch (error) {
        problem = error instanceof Unreachable ? "no_signal" : "not_kept";
      }
      // Without signal there is a pause, whoever asked meanwhile.
      if (problem === "no_signal") this.#again = false;
      await this.#note({ problem }).catch(() => {});
      if (problem === null || problem === "signed_out") {
        this.#failures = 0;
        return;
      }
      const pause = Math.min(LONGEST_PAUSE, FIRST_PAUSE * 2 ** this.#failures);
      this.#failures += 1;
      this.#timer = setTimeout(() => this.send(), pause * (1 + Math.random() / 4));
    }

    /** Sends what waits, one after another. Returns what stopped it, or null. */
    async #run() {
      const skipped = new Set();
      let problem = null;
      const skipGym = async (gym) => {
        for (const one of await (await this.#db()).getAll("entries")) {
          if (one.gym === gym) skipped.add(one.content.id);
        }
      };
      for (;;) {
        const record = await this.#next(skipped);
        if (!record) return problem;
        const outcome = await this.#sendOne(record);
        if (outcome === null) continue;
        problem = outcome;
        if (outcome === "not_allowed") {
          // One gym that takes nothing does not hold up another.
          await skipGym(record.gym);
          continue;
        }
        if (outcome !== "server" || record.failures + 1 < HOPELESS_AFTER) return problem;
        skipped.add(record.content.id);
      }
    }

    /** The oldest waiting entry of which nothing that it replaces still waits on this phone. */
    async #next(skipped) {
      const records = await (await this.#db()).getAll("entries");
      const onServer = ({ content, order }) => {
        const before = content.replaces && standsFor(records, content.replaces);
        // What came of itself under another id is on the server, with other content.
        return !before || before.order === order || before.state === "arrived";
      };
      return records.find(
        (record) => record.state === "waiting" && !skipped.has(record.content.id) && onServer(record),
      );
    }

    /** Sends one entry. Returns null when it is dealt with, or what stops the sending. */
    async #sendOne(record) {
      let token = (await (await this.#db()).get("books", record.gym))?.book.csrf;
      let answer;
      for (let attempt = 0; attempt < 2; attempt += 1) {
        if (token === undefined || answer?.status === 403) {
          token = (await this.#fetchBook(record.gym))?.csrf;
          if (token === undefined) return (await here())?.signed_in ? "not_allowed" : "signed_out";
        }
        answer = await this.#reach(() => this.#post(record, token));
        if (answer.status !== 403) break;
      }
      if (answer.signedOut) {
        await leaveHere(this.#account);
        return "signed_out";
      }
      const { status, body } = answer;
      if (status === 403) return "not_allowed";
      if (status === 413) {
        const sentence = "This session is larger than the gym’s log takes.";
        return this.#refused(record, { problems: [{ field: "entry", sentence }] });
      }
      if (status === 200 && ["stored", "already_stored"].includes(body?.outcome)) {
        return this.#arrived(record, body);
      }
      if (status === 409 && body?.newest) return this.#changedMeanwhile(record, body);
      if (status === 422 && Array.isArray(body?.problems)) return this.#refused(record, body);
      await this.#write(record, (_records, one) => {
        one.failures += 1;
        return [one];
      });
      return "server";
    }

    #post(record, csrf) {
      const form = { csrf, account: this.#account, entry: JSON.stringify(record.content) };
      return ask(`/g/${record.gym}/log/carried`, { method: "POST", body: new URLSearchParams(form) });
    }

    #arrived(record, { on, stop, plan }) {
      return this.#write(record, (_records, one) => {
        Object.assign(one, { state: "arrived", arrived_at: Date.now(), on, stop, plan });
        if (stop || plan) one.noted = false;
        return [one];
      });
    }

    #changedMeanwhile(record, { newest }) {
      return this.#write(record, (_records, one) => {
        Object.assign(one, { state: "changed_meanwhile", newest });
        return [one];
      });
    }

    async #refused(record, { problems, today }) {
      const ahead =
        record.day_by === "phone" &&
        record.content.on > today &&
        problems.some(({ field }) => field === "on");
      const day = ahead ? await this.#dayByTheServer(record, today) : null;
      return this.#write(record, (records, one) => {
        if (ahead) {
          one.day_moved_from ??= one.content.on;
          one.ask_day = false;
          one.content = { ...one.content, on: day };
          return underNewId(records, one, this.newId());
        }
        const follower = records.find((other) => other.content.replaces === one.content.id);
        one.state = "refused";
        one.problems = problems;
        if (!follower) return [one];
        // It was changed on the phone since: the change stands where this would have stood.
        one.state = "set_aside";
        one.instead = follower.content.id;
        follower.content = placed(follower.content, one.content);
        return [one, follower, ...followOn(records, follower.content.id, follower)];
      });
    }

    /** The day on which an entry was kept, by the server's clock; never after its today. */
    async #dayByTheServer(record, today) {
      await this.#fetchBook(record.gym);
      const kept = await (await this.#db()).get("books", record.gym);
      const day = kept ? dayAt(record.kept_at - record.skew + kept.skew, kept.book.zone) : today;
      return day < today ? day : today;
    }

    /** Writes what became of an entry, as it stands by now. Returns null: it is dealt with. */
    async #write(record, change) {
      const tx = (await this.#db()).transaction("entries", "readwrite", STRICT);
      const records = await tx.store.getAll();
      const one = records.find(({ order }) => order === record.order);
      if (one) for (const changed of change(records, one)) tx.store.put(changed);
      await tx.done;
      tell(this.#account);
      return null;
    }

    async #note(news) {
      const tx = (await this.#db()).transaction("notes", "readwrite");
      const before = (await tx.store.get("sending")) ?? {};
      tx.store.put({ ...before, ...news }, "sending");
      await tx.done;
      const isNews = ["problem", "reached"].some((name) => name in news && news[name] !== before[name]);
      if (isNews) tell(this.#account);
    }
  }

  /** Asks the browser to send when there is signal again, even with the page closed. */
  async function askForSync() {
    try {
      const worker = await globalThis.navigator?.serviceWorker?.getRegistration();
      await worker?.sync?.register("outbox");
    } catch {
      // Not every browser allows it; the page sends then.
    }
  }

  const phones = new Map();

  /** The phone of an account in a gym: one for each page. */
  function open({ account, gym }) {
    const key = `${account} ${gym}`;
    if (!phones.has(key)) {
      const phone = new Phone(account, gym);
      phones.set(key, phone);
      if (globalThis.document) {
        globalThis.addEventListener("online", () => phone.send());
        document.addEventListener("visibilitychange", () => {
          if (document.visibilityState === "visible") phone.send();
        });
        void phone.send();
      }
    }
    return phones.get(key);
  }

  globalThis.leverbook = {
    ...globalThis.leverbook,
    outbox: {
      open,
      here,
      arriveHere,
      leaveHere,
      unsentHere,
      wipe,
      putAway,
      putOthersAway,
      keepPage,
      forgetOldFiles,
      isSignedOut,
      isUnsent,
      sessionsOf,
      tellsOfStop,
      SHORTEST_LEAD_IN,
      filesOf,
      pagesOf,
      completeMark,
      PAGES,
    },
  };
})();
