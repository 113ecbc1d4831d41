// What the phone's pages say about entries, and how they are put on a page. Text always goes in as
// text: nothing that somebody typed is read as markup.

/** An element with attributes (and `on…` listeners) and children; what is null is left out. */
export function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return made;
}

export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

/** "1 session waits", "3 sessions wait". */
export const sessions = (number, one = "", more = one) =>
  number === 1 ? `1 session ${one}`.trim() : `${number} sessions ${more}`.trim();

/** Wed 25 Nov 2026, as the server's pages write it. */
export function dayWords(day) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    weekday: "short",
    day: "numeric",
    month: "short",
    year: "numeric",
    timeZone: "UTC",
  }).formatToParts(new Date(`${day}T00:00:00Z`));
  const part = (kind) => parts.find(({ type }) => type === kind).value;
  return `${part("weekday")} ${part("day")} ${part("month").slice(0, 3)} ${part("year")}`;
}

/** Wed 25 Nov 2026, 18:02, in the gym's zone. */
export function instantWords(milliseconds, zone) {
  const parts = new Intl.DateTimeFormat("en-CA", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
  }).formatToParts(milliseconds);
  const part = (kind) => parts.find(({ type }) => type === kind).value;
  const day = `${part("year")}-${part("month")}-${part("day")}`;
  return `${dayWords(day)}, ${part("hour")}:${part("minute")}`;
}

const nameIn = (list, id, other) => list?.find((one) => one.id === id)?.name ?? other;

/** The names of what was swung; what the carried book no longer has is said to be unknown. */
function work(set, book) {
  const planned = book?.planned ?? [];
  const movement =
    nameIn(book?.movements, set.movement) ??
    planned.find((one) => one.movement === set.movement)?.movement_name ??
    "a movement no longer in the gym’s list";
  const club =
    nameIn(book?.clubs, set.club) ??
    planned.find((one) => one.club === set.club)?.club_name ??
    "a club no longer in the rack";
  const hands = book?.hands?.find((one) => one.word === set.hands)?.words ?? set.hands;
  return { movement, club, hands, counted: set.seconds === null ? "" : `${set.seconds} s a set` };
}

/** The work of an entry, each with its counts of both sides in order. */
export function workOf(content, book) {
  const works = [];
  for (const set of content.sets) {
    const key = [set.movement, set.hands, set.club, set.seconds].join(" ");
    let found = works.find((one) => one.key === key);
    if (!found) works.push((found = { key, ...work(set, book), left: [], right: [] }));
    found[set.side].push(set.reps);
  }
  return works;
}

/** "inside circle with Oak 6" */
export function titleOf(content, book) {
  const works = workOf(content, book);
  if (works.length === 0) return "A session without sets";
  const [{ movement, club }] = works;
  const more = works.length > 1 ? `, and ${works.length - 1} more` : "";
  return `${movement} with ${club}${more}`;
}

const sum = (reps) => reps.reduce((a, b) => a + b, 0);

const counts = (reps) => (reps.length === 0 ? "none" : `${reps.join(", ")} (${sum(reps)} in all)`);

/** "15 left, 15 right"; empty without sets. */
export function totalsOf({ sets }) {
  if (sets.length === 0) return "";
  const of = (wanted) => sum(sets.filter(({ side }) => side === wanted).map(({ reps }) => reps));
  return `${of("left")} left, ${of("right")} right`;
}

const painWords = ({ score, place }) => (place ? `${score}, ${place}` : String(score));

/** All of an entry, as a list of facts. */
export function facts(content, book) {
  const fact = (name, ...value) =>
    element("div", {}, element("dt", {}, name), element("dd", { dir: "auto" }, ...value));
  if (content.taken_back) {
    return element("dl", { class: "facts" }, fact("Taken back", "it does not count"));
  }
  return element(
    "dl",
    { class: "facts" },
    fact("Day", dayWords(content.on)),
    workOf(content, book).map((one) => [
      fact("Work", [capital(one.movement), one.club, one.hands, one.counted].filter(Boolean).join(", ")),
      fact("Left", counts(one.left)),
      fact("Right", counts(one.right)),
    ]),
    content.effort === null ? null : fact("Effort", `${content.effort} of 10`),
    content.pain.length === 0 ? null : fact("Pain", content.pain.map(painWords).join("; ")),
    content.minutes === null ? null : fact("Time", `${content.minutes} min`),
    content.note === "" ? null : fact("Note", element("span", { class: "as-typed" }, content.note)),
  );
}

/** Whether something was said about an entry that its athlete has not read yet. */
export const hasNews = ({ state, noted, day_moved_from, ask_day, plan, stop }) =>
  state !== "set_aside" && !noted && Boolean(day_moved_from || ask_day || plan || stop);

/** Whether an entry waits for a decision of its athlete, not only for being read. */
export const needsYou = (record) =>
  record.state === "changed_meanwhile" ||
  record.state === "refused" ||
  (hasNews(record) && Boolean(record.day_moved_from || record.ask_day));

/** A session under way: what it is called, and the page where it goes on. */
export function underWayWords({ key, value }) {
  const movement = value?.plan?.movement_name;
  return {
    name: movement ? capital(movement) : "A session of your own choice",
    page: key === "free" ? "train?free=1" : `train?planned=${encodeURIComponent(key)}`,
  };
}
