// Moving planned sessions on the calendar: dragged by mouse or touch, picked up and set down by two presses, or
// carried by the arrow keys. What is set down is sent as the form below the calendar; the server decides.

const calendar = document.querySelector("#calendar");
const form = calendar.querySelector("#moving-form");
const says = calendar.querySelector("#moving-says");
const days = [...calendar.querySelectorAll("[data-day]")];
const DRAGGED = 6;
const EDGE = 60;

let carried = null;
// Keys also make clicks: those are dealt with already.
let byKey = false;

const dayOf = (session) => session.closest("[data-day]");
const say = (words) => {
  says.textContent = words;
};
const isOpen = (day) => !day.classList.contains("past");

function mark(day) {
  for (const other of calendar.querySelectorAll(".target")) other.classList.remove("target");
  day?.classList.add("target");
}

function setDown(session, day) {
  form.action = session.dataset.move;
  form.elements.revision.value = session.dataset.revision;
  form.elements.on.value = day.dataset.day;
  say(`${session.dataset.words}: moved to ${day.dataset.label}.`);
  form.requestSubmit();
}

// By keyboard.

function lift(session) {
  carried = { session, day: dayOf(session) };
  session.classList.add("lifted");
  const button = session.querySelector(".lift");
  button.setAttribute("aria-pressed", "true");
  mark(carried.day);
  say(`Picked up ${session.dataset.words}, on ${carried.day.dataset.label}. Arrow keys choose the day.`);
}

function putBack() {
  const { session } = carried;
  carried = null;
  session.classList.remove("lifted");
  session.querySelector(".lift").setAttribute("aria-pressed", "false");
  mark(null);
  say(`Put back: ${session.dataset.words} stays on ${dayOf(session).dataset.label}.`);
}

function carry(by) {
  const to = days[days.indexOf(carried.day) + by];
  if (!to || !isOpen(to)) {
    say(to ? `${to.dataset.label} has passed.` : "The calendar ends here.");
    return;
  }
  carried.day = to;
  mark(to);
  to.scrollIntoView({ block: "nearest" });
  const there = [...to.querySelectorAll("[data-words]")]
    .filter((other) => other !== carried.session)
    .map((other) => other.dataset.words);
  say(`${to.dataset.label}${there.length ? `, beside ${there.join(" and ")}` : ""}.`);
}

const STEPS = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -7, ArrowDown: 7 };

function pressed(event) {
  const session = event.target.closest("[data-move]");
  const sets = event.key === "Enter" || event.key === " ";
  byKey = sets;
  if (carried?.session !== session) {
    if (sets) {
      event.preventDefault();
      if (carried) putBack();
      lift(session);
    }
    return;
  }
  if (event.key === "Tab") return putBack();
  const step = STEPS[event.key];
  if (step) carry(step);
  else if (event.key === "Escape") putBack();
  else if (sets) {
    const { day } = carried;
    if (day === dayOf(session)) putBack();
    else setDown(session, day);
  } else return;
  event.preventDefault();
}

// By two presses: Move, then the day.

function clicked(event) {
  const session = event.target.closest("[data-move]");
  if (byKey) return;
  const again = carried?.session === session;
  if (carried) putBack();
  if (!again) {
    lift(session);
    event.currentTarget.focus();
  }
}

calendar.addEventListener("click", (event) => {
  if (!carried || event.target.closest("a, button")) return;
  const day = event.target.closest("[data-day]");
  if (!day || !isOpen(day)) return;
  if (day === dayOf(carried.session)) putBack();
  else setDown(carried.session, day);
});

// By mouse and touch.

function grabbed(event) {
  if (event.button !== 0 || event.target.closest("a")) return;
  const session = event.currentTarget;
  if (event.pointerType !== "mouse" && !event.target.closest(".lift")) return;
  const from = { x: event.clientX, y: event.clientY };
  let floating = null;
  let over = null;

  const move = (at) => {
    if (!floating) {
      if (Math.hypot(at.clientX - from.x, at.clientY - from.y) < DRAGGED) return;
      if (carried) putBack();
      session.setPointerCapture(event.pointerId);
      floating = session.cloneNode(true);
      floating.removeAttribute("id");
      floating.removeAttribute("data-move");
      floating.setAttribute("aria-hidden", "true");
      floating.classList.add("floating");
      for (const each of floating.querySelectorAll("a, button")) each.tabIndex = -1;
      calendar.append(floating);
      calendar.classList.add("dragging");
      session.classList.add("lifted");
    }
    floating.style.left = `${at.clientX + 8}px`;
    floating.style.top = `${at.clientY + 8}px`;
    if (at.clientY < EDGE) scrollBy(0, -EDGE / 4);
    if (at.clientY > innerHeight - EDGE) scrollBy(0, EDGE / 4);
    const below = document.elementFromPoint(at.clientX, at.clientY)?.closest("[data-day]");
    over = below && isOpen(below) ? below : null;
    mark(over);
  };
  const end = (stops) => {
    for (const [kind, listener] of heard) session.removeEventListener(kind, listener);
    removeEventListener("keydown", escape);
    floating?.remove();
    calendar.classList.remove("dragging");
    session.classList.remove("lifted");
    mark(null);
    if (floating && stops && over && over !== dayOf(session)) setDown(session, over);
    else if (floating) say(`Put back: ${session.dataset.words} stays where it is.`);
  };
  const drop = () => end(true);
  const lost = () => end(false);
  const escape = (key) => {
    if (key.key === "Escape") lost();
  };
  const heard = [
    ["pointermove", move],
    ["pointerup", drop],
    ["pointercancel", lost],
  ];
  for (const [kind, listener] of heard) session.addEventListener(kind, listener);
  addEventListener("keydown", escape);
}

for (const session of calendar.querySelectorAll("[data-move]")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button lift";
  button.setAttribute("aria-pressed", "false");
  button.setAttribute("aria-describedby", "moving-how");
  const words = document.createElement("span");
  words.className = "unseen";
  words.textContent = ` ${session.dataset.words}, ${dayOf(session).dataset.label}`;
  button.append("Move", words);
  button.addEventListener("keydown", pressed);
  button.addEventListener("keyup", () => setTimeout(() => (byKey = false)));
  button.addEventListener("click", clicked);
  session.append(button);
  session.addEventListener("pointerdown", grabbed);
}
calendar.querySelector(".moving-how").hidden = false;
calendar.querySelector(".moving-plain").hidden = true;

// After a move the session is where the work goes on: once the browser has gone to it, which takes the focus away.
if (location.hash.startsWith("#planned-")) {
  const moved = document.getElementById(location.hash.slice(1));
  addEventListener("load", () => {
    requestAnimationFrame(() => (moved?.querySelector(".lift") ?? moved?.querySelector("a"))?.focus());
  });
}
