// The stopwatch of the swing test, on the form of a club's measure. Taps are timed by the instant of the event, on a
// clock that only goes forward; nothing is fetched or sent until the form is.

import { HAND, SWINGS, bounds, refusal, summary, uneven } from "./swings.js";

const RUNS = 3;
const find = (id) => document.getElementById(id);
const [watch, face, word, time, told, list, mean, again] = ["", "-face", "-word", "-time", "-told", "-runs", "-mean", "-again"].map(
  (part) => find(`watch${part}`),
);
const metres = Number(watch.dataset.metres);
let runs = [];
/** The taps of the run under way, in seconds. */
let taps = [];

const counts = () => find("watch-counted").checked;
const typed = (id) => (find(id).value.trim() === "" ? NaN : Number(find(id).value.trim().replace(",", ".")) * metres);
const say = (sentence) => (told.textContent = sentence);

function show() {
  const under = taps.length > 0;
  if (!under) time.textContent = "";
  word.textContent = runs.length >= RUNS ? "Three runs done" : !under ? `Start run ${runs.length + 1}` : counts() ? "Tap as it comes back" : "Stop after swing 20";
  face.disabled = runs.length >= RUNS;
  for (const radio of watch.querySelectorAll("input")) radio.disabled = under;
  again.hidden = runs.length === 0 && !under;
  list.replaceChildren(
    ...runs.map((run, nth) => {
      const item = document.createElement("li");
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button plain";
      button.textContent = `Leave out run ${nth + 1}`;
      button.addEventListener("click", () => {
        runs.splice(nth, 1);
        say(`Run ${nth + 1} is left out.`);
        show();
        fill();
        face.focus();
      });
      item.append(`${run.toFixed(2)} s `, button);
      return item;
    }),
  );
}

/** Puts the mean of the runs and its ± into the form. */
function fill() {
  mean.textContent = "";
  if (runs.length === 0) return;
  const { mean: middle, spread, off } = summary(runs);
  find("swings_time").value = middle.toFixed(2);
  find("swings_time_off").value = off.toFixed(2);
  find("swings_time_off").closest("details").open = true;
  const apart = spread === null ? "" : `, spread ${spread.toFixed(2)} s`;
  const whose = off > HAND ? "from the spread of the runs" : "what a hand on a watch is off";
  mean.textContent = `Mean of ${runs.length}: ${middle.toFixed(2)} s${apart}. Filled in above with ± ${off.toFixed(2)} s, ${whose}.`;
}

function drop(sentence) {
  taps = [];
  say(sentence);
  show();
}

function finish() {
  const seconds = taps.at(-1) - taps[0];
  const lost = counts() ? uneven(taps) : null;
  const why =
    lost === null
      ? refusal(seconds, bounds(typed("balance"), typed("pivot"), typed("length")))
      : `The tap at swing ${lost} was missed, or came twice.`;
  if (why !== null) return drop(`${why} This run is not kept.`);
  runs.push(seconds);
  drop(runs.length < RUNS ? `Run ${runs.length}: ${seconds.toFixed(2)} s. Let it hang still, then the next.` : `Run ${RUNS}: ${seconds.toFixed(2)} s.`);
  fill();
}

function hit(at) {
  if (runs.length >= RUNS) return;
  taps.push(at / 1000);
  if (taps.length === 1) {
    say(counts() ? "Started. Tap each time it comes back to this side." : "Started. Count each time it comes back to this side.");
    show();
    tick();
  } else if (!counts() || taps.length > SWINGS) {
    finish();
  }
}

function tick() {
  if (taps.length === 0) return;
  const passed = (performance.now() / 1000 - taps[0]).toFixed(1);
  time.textContent = counts() ? `${taps.length - 1} of ${SWINGS}, ${passed} s` : `${passed} s`;
  requestAnimationFrame(tick);
}

face.addEventListener("pointerdown", (event) => {
  if (event.isPrimary && event.button === 0) hit(event.timeStamp);
});
for (const kind of ["keydown", "keyup"]) {
  face.addEventListener(kind, (event) => {
    if (kind === "keydown" && event.key === "Escape" && taps.length > 0) drop("Stopped. This run is not kept.");
    if (event.key !== " " && event.key !== "Enter") return;
    event.preventDefault();
    if (kind === "keydown" && !event.repeat) hit(event.timeStamp);
  });
}
// Whoever presses it by voice or by a screen reader sends neither of these.
face.addEventListener("click", (event) => {
  if (event.detail === 0) hit(event.timeStamp);
});
again.addEventListener("click", () => {
  runs = [];
  drop("All runs are left out.");
  fill();
  face.focus();
});

watch.hidden = false;
show();
