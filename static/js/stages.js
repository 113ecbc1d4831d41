// Draws the page of the guided session: shows one stage at a time and fills it with values. It touches
// only what changed, so that a slow phone has time for the next tap. Words stand in the page.

/** One stage: what of it is filled, and what is shown or not. */
class Stage {
  constructor(element) {
    this.element = element;
    const all = (selector) => [...element.querySelectorAll(selector)];
    this.fills = all("[data-fill]").map((place) => ({ place, pattern: place.textContent, shown: null }));
    this.conditions = all("[data-if]").map((place) => ({ place, name: place.dataset.if }));
    this.links = all("[data-href]").map((place) => ({ place, name: place.dataset.href }));
    this.numbers = all("[data-number]");
  }

  draw(values) {
    for (const fill of this.fills) {
      const text = filled(fill.pattern, values);
      if (text === fill.shown) continue;
      fill.shown = text;
      fill.place.textContent = text;
    }
    for (const { place, name } of this.conditions) {
      const hidden = !values[name];
      if (place.hidden !== hidden) place.hidden = hidden;
    }
    for (const { place, name } of this.links) {
      if (values[name]) place.href = values[name];
    }
    for (const input of this.numbers) show(input, values[input.dataset.number]);
  }
}

/** Puts a value into an input, but never under the fingers of somebody who types in it. */
export function show(input, value) {
  const text = value === null || value === undefined ? "" : String(value);
  if (input.value !== text && document.activeElement !== input) input.value = text;
}

/** Words with the values in their braces. */
const filled = (pattern, values) => pattern.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");

export class Stages {
  #root;
  #stages = new Map();
  #tools;
  #words = new Map();
  #said;
  #current = null;

  constructor(root) {
    this.#root = root;
    this.#tools = new Stage(root.querySelector("[data-tools]"));
    for (const element of root.querySelectorAll("[data-stage]")) {
      this.#stages.set(element.dataset.stage, new Stage(element));
    }
    for (const word of root.querySelector("#words").content.querySelectorAll("[data-word]")) {
      this.#words.set(word.dataset.word, word.textContent);
    }
    this.#said = root.querySelector("#said");
  }

  /** The name of the stage that is shown. */
  get current() {
    return this.#current;
  }

  element(name) {
    return this.#stages.get(name).element;
  }

  /**
   * Shows a stage with these values; `tools`: whether the row of tools belongs to it; `alone`: without
   * the frame of the other pages.
   */
  draw(name, values, { tools = false, alone = tools } = {}) {
    const stage = this.#stages.get(name);
    stage.draw(values);
    if (tools) this.#tools.draw(values);
    if (name === this.#current) return;
    const before = this.#current;
    if (before) this.element(before).hidden = true;
    this.#current = name;
    this.#root.dataset.at = name;
    stage.element.hidden = false;
    this.#tools.element.hidden = !tools;
    if (tools) stage.element.insertBefore(this.#tools.element, stage.element.querySelector(".bottom"));
    document.body.classList.toggle("under-way", alone);
    globalThis.scrollTo(0, 0);
    // What the page opens with needs no focus: it is where everybody begins to read.
    if (before && before !== "opening") focusOn(stage.element);
  }

  /** Tells a screen reader what no focus leads to. */
  say(word, values) {
    this.#said.textContent = filled(this.#words.get(word), values);
  }
}

/** Focus follows to where the next tap belongs: the counting pad, else the stage's heading. */
function focusOn(element) {
  const pad = element.querySelector("[data-tap='rep']");
  const heading = [...element.querySelectorAll("h1")].find((h1) => !h1.closest("[hidden]"));
  if (heading) heading.tabIndex = -1;
  (pad ?? heading)?.focus({ preventScroll: true });
}

/** A row of marks to choose one of: `marks` are {value, word, shown}; an empty value is "not said". */
export function makeScale(root, container, name, marks) {
  const mark = root.querySelector("#scale-mark");
  container.replaceChildren(
    ...marks.map(({ value, word, shown }) => {
      const copy = mark.content.cloneNode(true);
      const input = copy.querySelector("input");
      input.name = name;
      input.value = value;
      input.setAttribute("aria-label", word);
      copy.querySelector("span").textContent = shown;
      return copy;
    }),
  );
}

/** Chooses the mark with a value; none where there is no such mark. */
export function chooseMark(container, value) {
  for (const input of container.querySelectorAll("input")) input.checked = input.value === value;
}

/** Buttons that put a common word into an input. */
export function makeChips(root, container) {
  const input = root.querySelector(`#${container.dataset.chips}`);
  for (const { textContent } of root.querySelector("#places").content.children) {
    const chip = document.createElement("button");
    chip.type = "button";
    chip.className = "button";
    chip.textContent = textContent;
    chip.addEventListener("click", () => {
      input.value = textContent;
      input.dispatchEvent(new Event("input", { bubbles: true }));
    });
    container.append(chip);
  }
}
