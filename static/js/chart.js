// Walking along a coach's charts. The figures of a chart stand in its table; each row that has a place in the drawing
// says where (data-at). Here the pointer, or one tab stop and the arrow keys, go from row to row, and the row is read
// out: under the drawing for the eye, as the value of a slider for a screen reader. What is read stays until another
// row is, or Escape. Without this script the table stands, and the drawing has its titles.

/** How many rows a page of them is. */
const PAGE = 10;

/** What a row of a table says: the head of each column with what stands in it. */
function read(row, heads) {
  const [first, ...rest] = row.cells;
  const parts = rest.flatMap((cell, place) => (cell.textContent === "–" ? [] : [[heads[place + 1], cell.textContent]]));
  return { name: first.textContent, parts };
}

function walkable(figure) {
  const across = figure.dataset.along === "x";
  const svg = figure.querySelector("svg[role=img]");
  const table = figure.querySelector("table");
  const rows = [...table.querySelectorAll("tr[data-at]")];
  if (rows.length === 0) return;
  const heads = [...table.tHead.rows[0].cells].map((cell) => cell.textContent);
  const stops = rows.map((row) => ({ at: Number(row.dataset.at), ...read(row, heads) })).sort((a, b) => a.at - b.at);

  let frame = svg.closest(".story-plot");
  if (!frame) {
    frame = document.createElement("div");
    frame.className = "reader";
    svg.before(frame);
    frame.append(svg);
  }
  const walk = document.createElement("div");
  walk.className = "walk";
  walk.tabIndex = 0;
  walk.setAttribute("role", "slider");
  walk.setAttribute("aria-label", `${svg.querySelector("title").textContent}: figures, by arrow keys`);
  walk.setAttribute("aria-orientation", across ? "horizontal" : "vertical");
  walk.setAttribute("aria-valuemin", "1");
  walk.setAttribute("aria-valuemax", String(stops.length));
  const place = document.createElement("span");
  place.className = "walk-at";
  place.hidden = true;
  walk.append(place);
  frame.append(walk);
  const readout = document.createElement("p");
  readout.className = "readout";
  (svg.closest(".weeks") ?? frame).after(readout);

  const newest = across ? stops.length - 1 : 0;
  let at = newest;

  // A screen reader is told where one would begin; the eye is shown nothing before somebody asks.
  function say() {
    const { name, parts } = stops[at];
    walk.setAttribute("aria-valuenow", String(at + 1));
    walk.setAttribute("aria-valuetext", `${name}. ${parts.map((part) => part.join(": ")).join("; ")}`);
  }

  function leave() {
    place.hidden = true;
    readout.classList.add("is-empty");
    readout.textContent = across
      ? "Point at a day, or use the arrow keys, to read it here."
      : "Point at a row, or use the arrow keys, to read it here.";
  }

  function go(to) {
    at = Math.min(Math.max(to, 0), stops.length - 1);
    say();
    const { name, parts } = stops[at];
    place.hidden = false;
    if (across) place.style.left = `${stops[at].at}%`;
    else place.style.top = `${stops[at].at}px`;
    readout.classList.remove("is-empty");
    const day = document.createElement("b");
    day.textContent = name;
    readout.replaceChildren(
      day,
      ...parts.flatMap(([head, text]) => {
        const part = document.createElement("span");
        part.textContent = `${head}: ${text}`;
        return [part, " "];
      }),
    );
  }

  function nearest(event) {
    const box = walk.getBoundingClientRect();
    const here = across ? ((event.clientX - box.left) / box.width) * 100 : event.clientY - box.top;
    return stops.reduce((best, { at: there }, index) => {
      return Math.abs(there - here) < Math.abs(stops[best].at - here) ? index : best;
    }, 0);
  }

  const keys = {
    ArrowRight: 1,
    ArrowLeft: -1,
    ArrowUp: across ? 1 : -1,
    ArrowDown: across ? -1 : 1,
    PageUp: across ? PAGE : -PAGE,
    PageDown: across ? -PAGE : PAGE,
    Home: -Infinity,
    End: Infinity,
  };
  walk.addEventListener("keydown", (event) => {
    if (!(event.key in keys)) return;
    go(at + keys[event.key]);
    event.preventDefault();
    place.scrollIntoView({ block: "nearest" });
  });
  walk.addEventListener("focus", () => {
    if (walk.matches(":focus-visible")) go(at);
  });
  for (const kind of ["pointermove", "pointerdown"]) {
    walk.addEventListener(kind, (event) => {
      const to = nearest(event);
      if (to !== at || place.hidden) go(to);
    });
  }
  // Escape puts it away, whether the pointer or the keyboard brought it up.
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && (figure.matches(":hover") || figure.contains(document.activeElement))) leave();
  });
  say();
  leave();
}

for (const figure of document.querySelectorAll("figure[data-along]")) walkable(figure);
