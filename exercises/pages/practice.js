// The practice widget: shows a variant, reads what was typed and compares it with what the build worked out.
// Every number it compares with, and every unit's factor, stands in the page's data. Needs read_number.js before it.
// A page that leads its widgets sends each section "pitside:show" with {system, index}; every check sends
// "pitside:checked" with the items judged, each [id, verdict, {broken: rules of an order, rests: on what cannot be}].
"use strict";

(() => {
  const STORED_SYSTEM = "pitside-units";
  const SYSTEM_NAMES = { field: "Field", metric: "Metric" };
  const SIGNS = { right: "✓", follows: "✓", wrong: "✗", unread: "!" };
  const widgets = [];

  // Judging ---------------------------------------------------------------------------------------------------

  const within = (value, [low, high]) => value >= low && value <= high;
  const withinAny = (value, intervals) => intervals.some((interval) => within(value, interval));

  // The follow-throughs of an item whose earlier slips the reader's own answers show.
  function carriedTo(item, answers) {
    const shows = ([id, at]) => id in answers && within(answers[id], at);
    return item.follows.filter((follow) => Object.entries(follow.when).every(shows));
  }

  // By which known factor a wrong value is off, if it is; where two are close, the closer one.
  function factorOf(item, value, factors) {
    const found = [];
    for (const [name, times] of item.factors ? factors : []) {
      const large = Math.max(times, 1 / times);
      for (const [way, by] of [["large", large], ["small", 1 / large]]) {
        for (const [low, high] of item.accepts) {
          const middle = (low + high) / 2;
          if (within(value / by, [low, high])) found.push({ name, way, large, off: Math.abs(value / by / middle - 1) });
        }
      }
    }
    found.sort((one, other) => one.off - other.off);
    return found[0];
  }

  function followed({ says, rests }) {
    const method = rests ? " But look at that answer again: it cannot be, so this one shows the method alone." : "";
    return { verdict: "follows", says: says + method, rests };
  }

  function judgeNumber(item, value, answers, factors) {
    if (withinAny(value, item.accepts)) return { verdict: "right", says: "Right." };
    const follow = carriedTo(item, answers).find((one) => withinAny(value, one.accepts));
    if (follow) return followed(follow);
    const slip = item.slips.find((one) => within(value, one.at));
    if (slip) return { verdict: "wrong", says: `Not right. A usual slip: ${slip.name}. ${slip.advice}` };
    if (withinAny(-value, item.accepts)) return { verdict: "wrong", says: "Not right: the sign is turned round." };
    const factor = factorOf(item, value, factors);
    if (factor) {
      const by = `${Number(factor.large.toPrecision(4))} (${factor.name})`;
      return { verdict: "wrong", says: `Not right: too ${factor.way} by a factor of ${by}.` };
    }
    if (item.accepts.every(([low]) => value < low)) return { verdict: "wrong", says: "Not right: too small." };
    if (item.accepts.every(([, high]) => value > high)) return { verdict: "wrong", says: "Not right: too large." };
    return { verdict: "wrong", says: "Not right." };
  }

  function judgeChoice(item, letter, answers) {
    const option = item.options.find((one) => one.letter === letter);
    if (option.right) return { verdict: "right", says: "Right." };
    const follow = carriedTo(item, answers).find((one) => one.right === letter);
    if (follow) return followed(follow);
    return { verdict: "wrong", says: `Not right. ${option.advice}` };
  }

  function judgeOrder(item, letters) {
    const broken = item.rules.filter((rule) => letters.indexOf(rule.before) > letters.indexOf(rule.after));
    if (broken.length === 0) return [{ verdict: "right", says: "Right." }];
    return broken.map((rule) => ({
      verdict: "wrong",
      says: `Not right: ${rule.before} must come before ${rule.after}. ${rule.advice}`,
    }));
  }

  // Building --------------------------------------------------------------------------------------------------

  function element(tag, attributes = {}, ...children) {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (value !== undefined) node.setAttribute(name, value);
    }
    node.append(...children);
    return node;
  }

  // Texts that the build wrote as HTML.
  function written(tag, html, attributes = {}) {
    const node = element(tag, attributes);
    node.innerHTML = html;
    return node;
  }

  function verdictLine({ verdict, says }, about) {
    const words = element("span", {});
    if (about) words.append(element("b", {}, `${about}: `));
    words.append(says);
    return element(
      "p",
      { class: "practice-verdict", "data-verdict": verdict },
      element("span", { class: "practice-sign", "aria-hidden": "true" }, SIGNS[verdict]),
      words,
    );
  }

  // The boxes for one number and its unit: those that fit first, then those of everyday kinds, as on a paper's page.
  function numberBoxes(item, id, { others, spellings }) {
    const input = element("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false" });
    const select = element("select", { id: `${id}-unit` }, element("option", { value: "" }, "unit …"));
    const kinds = [{ name: item.measures, units: item.units }, ...others.filter((kind) => kind.name !== item.measures)];
    for (const kind of item.converting ? kinds.slice(0, 1) : kinds) {
      const group = element("optgroup", { label: kind.name });
      for (const unit of kind.units) group.append(element("option", { value: unit.text }, unit.label));
      select.append(group);
    }
    // Where converting is the question there is nothing to choose.
    if (item.converting) select.options[0].remove();
    else if (item.preset) select.value = item.units.find((unit) => unit.label === item.unit).text;
    // A unit that was typed behind the number goes where units are picked, once the typing is done.
    const texts = kinds.flatMap((kind) => kind.units.map((unit) => unit.text));
    const read = () => readAnswer(input.value, texts, spellings);
    const settle = () => {
      const { unit, number } = read();
      if (!unit || ![...select.options].some((option) => option.value === unit)) return;
      input.value = number;
      if (select.value === unit) return;
      select.value = unit;
      select.dispatchEvent(new Event("change"));
    };
    input.addEventListener("change", settle);
    return { item, input, select, read, settle, others };
  }

  // What stands in the boxes: {value in base units}, or a verdict where that says it already; an unread box is named.
  function readBoxes({ item, input, select, read, settle, others }) {
    settle();
    const number = read();
    if (number.problem) return { verdict: "unread", says: number.problem, box: input };
    if (number.unit && item.converting) return { verdict: "wrong", says: `Answer in ${item.unit}: converting is asked here.` };
    if (select.value === "") return { verdict: "unread", says: "Pick a unit.", box: select };
    const picked = item.units.find((unit) => unit.text === select.value);
    const asked = item.units.find((unit) => unit.label === item.unit) ?? item.units[0];
    const rightAsAsked = withinAny(number.value * asked.factor, item.accepts);
    if (!picked) {
      const says = rightAsAsked ? ` The number itself is right in ${asked.label}.` : "";
      const label = select.selectedOptions[0].textContent;
      const kind = others.find((one) => one.units.some((unit) => unit.text === select.value)).name;
      return { verdict: "wrong", says: `Not right. ${label} measures ${kind}; the question asks for ${item.measures}.${says}` };
    }
    const value = number.value * picked.factor;
    if (rightAsAsked && !withinAny(value, item.accepts)) {
      return { verdict: "wrong", says: `Not right: the number is right in ${asked.label}, not in ${picked.label}.` };
    }
    return { value };
  }

  function judgeBoxes(boxes, answers, factors) {
    const { item, input, select } = boxes;
    const read = readBoxes(boxes);
    for (const box of [input, select]) box.removeAttribute("aria-invalid");
    if (read.verdict === "unread") read.box.setAttribute("aria-invalid", "true");
    delete answers[item.id];
    let judged = read;
    if (read.value !== undefined) {
      judged = judgeNumber(item, read.value, answers, factors);
      const warning = judged.verdict === "wrong" ? cannotBe(item.possible, read.value) : "";
      if (warning) judged.says += ` ${warning}`;
      answers[item.id] = read.value;
    }
    input.dataset.verdict = judged.verdict;
    return judged;
  }

  class Widget {
    constructor(section) {
      this.section = section;
      this.data = JSON.parse(section.querySelector("script[data-variants]").textContent);
      this.page = section.querySelector("[data-page]");
      this.index = 0;
      this.controls();
      section.addEventListener("pitside:show", ({ detail }) => this.show(detail.system, detail.index));
    }

    controls() {
      const units = element("fieldset", { class: "practice-units" }, element("legend", {}, "Units:"));
      this.switches = {};
      for (const name of Object.keys(this.data.systems)) {
        const radio = element("input", { type: "radio", name: `${this.section.id}-units`, value: name });
        radio.addEventListener("change", () => useSystem(name));
        units.append(element("label", {}, radio, SYSTEM_NAMES[name]));
        this.switches[name] = radio;
      }
      const other = element("button", { type: "button", "data-other": "" }, "Other numbers");
      other.addEventListener("click", () => this.show(this.system, this.index + 1));
      this.count = element("span", { class: "practice-count", role: "status" });
      const place = this.section.querySelector("[data-controls]");
      place.className = "practice-controls";
      place.append(units, other, this.count);
    }

    show(system, index) {
      const variants = this.data.systems[system];
      this.system = system;
      this.index = index % variants.length;
      this.answers = {};
      this.switches[system].checked = true;
      this.count.textContent = `Set ${this.index + 1} of ${variants.length}`;
      const variant = variants[this.index];
      this.page.replaceChildren(
        written("div", variant.setting, { class: "practice-setting" }),
        ...variant.parts.map((part) => this.part(part)),
      );
      document.dispatchEvent(new CustomEvent("pitside:shown"));
    }

    part(part) {
      const askId = `${this.section.id}-${part.key}-ask`;
      const result = element("div", { class: "practice-result", role: "status" });
      const words = part.items.length === 0;
      const kind = part.table ? "table" : words ? "words" : part.items[0].kind;
      const form = this[`${kind}Form`](part, askId, result);
      form.noValidate = true;
      const marks = `${part.marks} ${part.marks === 1 ? "mark" : "marks"}`;
      return element(
        "div",
        { class: "practice-part", "data-part": part.key },
        element(
          "div",
          { class: "practice-ask", id: askId },
          element("span", { class: "practice-key" }, `(${part.key})`),
          written("div", part.ask),
          element("span", { class: "practice-marks" }, marks),
        ),
        form,
        result,
        element(
          "details",
          { class: "practice-worked" },
          element("summary", {}, words ? `Model answer to (${part.key}), and its points` : `Worked solution to (${part.key})`),
          written("div", part.worked),
        ),
      );
    }

    // Room to write: a page cannot judge words, so the reader compares with the model answer.
    wordsForm(part, askId) {
      return element("form", { "aria-labelledby": askId }, element("textarea", { rows: "6", "aria-labelledby": askId }));
    }

    form(askId, ...children) {
      const check = element("button", { type: "submit", class: "practice-check" }, "Check");
      return [element("form", { "aria-labelledby": askId }, ...children), check];
    }

    onCheck(form, judge) {
      form.addEventListener("submit", (event) => {
        event.preventDefault();
        form.dispatchEvent(new CustomEvent("pitside:checked", { bubbles: true, detail: judge() }));
      });
    }

    numberForm(part, askId, result) {
      const id = `${this.section.id}-${part.key}`;
      const boxes = numberBoxes(part.items[0], id, this.data);
      const [form, check] = this.form(askId);
      form.append(
        element(
          "div",
          { class: "practice-answer" },
          element("div", { class: "practice-field" }, element("label", { for: id }, "Number"), boxes.input),
          element("div", { class: "practice-field" }, element("label", { for: `${id}-unit` }, "Unit"), boxes.select),
          check,
        ),
      );
      this.onCheck(form, () => {
        const judged = judgeBoxes(boxes, this.answers, this.data.factors);
        result.replaceChildren(verdictLine(judged));
        return [[boxes.item.id, judged.verdict, judged]];
      });
      return form;
    }

    tableForm(part, askId, result) {
      const items = Object.fromEntries(part.items.map((item) => [item.id, item]));
      const all = [];
      const columns = part.table.columns.map(() => []);
      const rows = part.table.cells.map((cells, row) =>
        element(
          "tr",
          {},
          written("th", part.table.rows[row], { scope: "row" }),
          ...cells.map((cell, column) => {
            if (cell.item === undefined) return written("td", cell.text);
            const item = items[cell.item];
            const boxes = numberBoxes(item, `${this.section.id}-${item.id}`, this.data);
            boxes.input.setAttribute("aria-label", item.label);
            boxes.select.setAttribute("aria-label", `Unit of ${item.label}`);
            all.push(boxes);
            columns[column].push(boxes);
            return element("td", {}, element("div", { class: "practice-cell" }, boxes.input, boxes.select));
          }),
        ),
      );
      columns.forEach(shareUnit);
      const [form, check] = this.form(askId);
      form.append(
        element(
          "div",
          { class: "table-scroll" },
          element(
            "table",
            {},
            element(
              "thead",
              {},
              element(
                "tr",
                {},
                element("td", {}, part.table.corner),
                ...part.table.columns.map((title) => element("th", { scope: "col" }, title)),
              ),
            ),
            element("tbody", {}, ...rows),
          ),
        ),
        check,
      );
      this.onCheck(form, () => {
        const filled = all.filter((boxes) => boxes.input.value.trim() !== "");
        for (const { item, input } of all) {
          if (input.value.trim() !== "") continue;
          delete this.answers[item.id];
          delete input.dataset.verdict;
        }
        const judged = filled.map((boxes) => judgeBoxes(boxes, this.answers, this.data.factors));
        const lines = judged.map((one, at) => verdictLine(one, filled[at].item.label));
        if (lines.length < all.length) {
          lines.push(verdictLine({ verdict: "unread", says: `${all.length - lines.length} of ${all.length} cells are empty.` }));
        }
        result.replaceChildren(...lines);
        return judged.map((one, at) => [filled[at].item.id, one.verdict, one]);
      });
      return form;
    }

    choiceForm(part, askId, result) {
      const item = part.items[0];
      const name = `${this.section.id}-${part.key}`;
      const radios = item.options.map((option) => element("input", { type: "radio", name, value: option.letter }));
      const options = item.options.map((option, at) =>
        element(
          "li",
          {},
          element("label", {}, radios[at], element("b", {}, option.letter), written("span", option.text)),
        ),
      );
      const [form, check] = this.form(askId);
      form.append(
        element(
          "fieldset",
          { class: "practice-choice" },
          element("legend", { class: "unseen" }, `Choose the answer to (${part.key})`),
          element("ul", { class: "practice-options" }, ...options),
        ),
        check,
      );
      this.onCheck(form, () => {
        const chosen = radios.find((radio) => radio.checked);
        const unread = { verdict: "unread", says: "Choose an answer first." };
        const judged = chosen ? judgeChoice(item, chosen.value, this.answers) : unread;
        result.replaceChildren(verdictLine(judged));
        return [[item.id, judged.verdict, judged]];
      });
      return form;
    }

    orderForm(part, askId, result) {
      const item = part.items[0];
      const list = element("ol", { class: "practice-steps" });
      const moved = element("p", { class: "unseen", role: "status" });
      const letters = () => [...list.children].map((line) => line.dataset.letter);
      const mark = () => {
        for (const line of list.children) {
          line.querySelector("[data-up]").setAttribute("aria-disabled", String(line === list.firstElementChild));
          line.querySelector("[data-down]").setAttribute("aria-disabled", String(line === list.lastElementChild));
        }
      };
      for (const step of item.steps) {
        const up = element("button", { type: "button", "data-up": "", "aria-label": `Move ${step.letter} up` }, "↑");
        const down = element("button", { type: "button", "data-down": "", "aria-label": `Move ${step.letter} down` }, "↓");
        const line = element("li", { "data-letter": step.letter }, element("b", {}, step.letter), element("span", {}, step.text), up, down);
        const move = (button, neighbour, place) => {
          if (neighbour === null) return;
          neighbour[place](line);
          mark();
          button.focus();
          moved.textContent = `${step.letter} is now step ${letters().indexOf(step.letter) + 1} of ${item.steps.length}.`;
        };
        up.addEventListener("click", () => move(up, line.previousElementSibling, "before"));
        down.addEventListener("click", () => move(down, line.nextElementSibling, "after"));
        list.append(line);
      }
      mark();
      const [form, check] = this.form(askId);
      const hint = element("p", { class: "practice-hint" }, "Move the steps with the arrows, the first step to the top.");
      form.append(hint, list, moved, check);
      this.onCheck(form, () => {
        const judged = judgeOrder(item, letters());
        result.replaceChildren(...judged.map((one) => verdictLine(one)));
        const broken = judged.filter((one) => one.verdict === "wrong").length;
        return [[item.id, judged[0].verdict, { broken }]];
      });
      return form;
    }
  }

  // A unit picked in one cell of a column is picked in its other cells that have none yet.
  function shareUnit(column) {
    for (const boxes of column) {
      boxes.select.addEventListener("change", () => {
        const picked = boxes.select.selectedOptions[0].textContent;
        for (const { select } of column) {
          const same = [...select.options].find((option) => option.textContent === picked);
          if (select.value === "" && same) select.value = same.value;
        }
      });
    }
  }

  // The page ---------------------------------------------------------------------------------------------------

  function storedSystem() {
    try {
      return localStorage.getItem(STORED_SYSTEM);
    } catch {
      return null;
    }
  }

  function useSystem(system) {
    try {
      localStorage.setItem(STORED_SYSTEM, system);
    } catch {
      // the choice then lasts for this page only
    }
    for (const widget of widgets) {
      if (widget.system !== system && system in widget.data.systems) widget.show(system, widget.index);
    }
  }

  for (const section of document.querySelectorAll("[data-practice]")) widgets.push(new Widget(section));
  for (const widget of widgets) {
    const stored = storedSystem();
    widget.show(stored in widget.data.systems ? stored : Object.keys(widget.data.systems)[0], 0);
  }
})();
