// The worksheet: takes answers, says when their form is wrong, keeps them in the browser, and saves the script.
// It holds nothing that could tell whether an answer is right.
"use strict";

(() => {
  const paper = JSON.parse(document.getElementById("paper").textContent);
  const KEY = `pitside-paper ${paper.paper}`;
  const items = new Map();
  const working = new Map();
  const one = (selector) => document.querySelector(selector);
  const all = (selector) => [...document.querySelectorAll(selector)];

  const { unitPicker, valueOf, putInto, settle, lookAtNumber } = answerForm(paper.kinds, paper.spellings);

  // Each item: value() to keep, put(value) to fill in, look() at its form, and code() for the notebook ---------------

  const NAMES_OF_STATE = { empty: "not answered", look: "to look at", fine: "answered" };

  function numberItem(item, place, label) {
    const input = element("input", { id: `value-${item.name}`, type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false" });
    const select = unitPicker(`unit-${item.name}`, item, `Unit of ${label}`);
    const check = element("p", { class: "check", id: `check-${item.name}`, role: "status" });
    input.setAttribute("aria-describedby", check.id);
    select.value = item.unit;
    const inTable = place.closest("td") !== null;
    const field = element("div", { class: "field" });
    if (inTable) {
      input.setAttribute("aria-label", label);
      field.append(input, select);
    } else {
      if (item.on_the_way) {
        const begins = paper.parts.some((part) => part.items[0] === item.name) ? "On the way, if you like: " : "";
        field.append(element("p", { class: "way quiet" }, `${begins}${item.label}`));
      }
      field.append(
        element("div", {}, element("label", { for: input.id }, item.on_the_way ? "Number on the way" : "Number"), input),
        element("div", {}, element("label", { for: select.id }, "Unit"), select),
      );
    }
    place.append(field, check);
    input.addEventListener("input", changed);
    input.addEventListener("change", () => {
      settle(input, select);
      changed();
    });
    select.addEventListener("change", changed);
    return {
      value: () => valueOf(input, select),
      put: (kept) => putInto(input, select, { typed: kept?.typed ?? "", unit: kept?.unit ?? item.unit }),
      look: () => lookAtNumber(item, input.value, select.value),
      show: ({ state, says }) => {
        check.dataset.state = state;
        check.textContent = says;
        input.toggleAttribute("aria-invalid", state === "look");
      },
      code: () => {
        const { typed, unit } = valueOf(input, select);
        if (typed.trim() === "") return "None";
        const read = readNumber(typed);
        const value = read.problem ? JSON.stringify(typed.trim()) : String(read.value);
        return `${value}, ${JSON.stringify(unit)}`;
      },
    };
  }

  function choiceItem(item, place, label) {
    const radios = item.options.map((option) => element("input", { type: "radio", name: `choice-${item.name}`, value: option.letter }));
    const fieldset = element("ul", { class: "choices", role: "radiogroup", "aria-label": `Answer to ${label}` });
    item.options.forEach((option, at) => {
      const text = element("span");
      text.innerHTML = option.text;
      fieldset.append(element("li", { role: "presentation" }, element("label", {}, radios[at], element("b", {}, option.letter), text)));
      radios[at].addEventListener("change", changed);
    });
    place.append(fieldset);
    const chosen = () => radios.find((radio) => radio.checked)?.value ?? "";
    return {
      value: chosen,
      put: (kept) => radios.forEach((radio) => (radio.checked = radio.value === kept)),
      look: () => (chosen() ? { state: "fine" } : { state: "empty" }),
      show: () => {},
      code: () => (chosen() ? JSON.stringify(chosen()) : "None"),
    };
  }

  function orderItem(item, place, label) {
    const list = element("ol", { class: "steps", "aria-label": `Steps of ${label}, the first on top` });
    const moved = element("p", { class: "unseen", role: "status" });
    const done = element("input", { type: "checkbox", id: `order-${item.name}` });
    let dragged = null;
    const letters = () => [...list.children].map((line) => line.dataset.letter).join("");
    const tell = (line) => {
      const at = [...list.children].indexOf(line) + 1;
      moved.textContent = `${line.dataset.letter} is now step ${at} of ${item.steps.length}.`;
    };
    for (const step of item.steps) {
      const handle = element("span", { class: "handle", "aria-hidden": "true" }, "↕");
      const up = element("button", { type: "button", "aria-label": `Move ${step.letter} up` }, "↑");
      const down = element("button", { type: "button", "aria-label": `Move ${step.letter} down` }, "↓");
      const line = element("li", { "data-letter": step.letter }, handle, element("b", {}, step.letter), element("span", {}, step.text), up, down);
      const move = (button, neighbour, how) => {
        if (neighbour === null) return;
        neighbour[how](line);
        done.checked = true;
        button.focus();
        tell(line);
        changed();
      };
      up.addEventListener("click", () => move(up, line.previousElementSibling, "before"));
      down.addEventListener("click", () => move(down, line.nextElementSibling, "after"));
      handle.addEventListener("pointerdown", (event) => {
        event.preventDefault();
        dragged = line;
        line.classList.add("dragged");
      });
      list.append(line);
    }
    // On the window, since a step that is moved in the list gets no further events of the pointer.
    addEventListener("pointermove", (event) => {
      if (dragged === null) return;
      const over = [...list.children].find((other) => {
        const box = other.getBoundingClientRect();
        return other !== dragged && event.clientY > box.top && event.clientY < box.bottom;
      });
      if (!over) return;
      const box = over.getBoundingClientRect();
      over[event.clientY < box.top + box.height / 2 ? "before" : "after"](dragged);
    });
    for (const end of ["pointerup", "pointercancel"]) {
      addEventListener(end, () => {
        if (dragged === null) return;
        dragged.classList.remove("dragged");
        done.checked = true;
        tell(dragged);
        dragged = null;
        changed();
      });
    }
    done.addEventListener("change", changed);
    place.append(
      element("p", { class: "quiet" }, "Put the first step on top: drag a step, or move it with the arrows."),
      list,
      moved,
      element("p", { class: "order-done" }, done, element("label", { for: done.id }, "This is my order")),
    );
    const sort = (order) => {
      for (const letter of order) list.append(list.querySelector(`[data-letter="${letter}"]`));
    };
    const start = letters();
    return {
      value: () => (done.checked ? letters() : ""),
      put: (kept) => {
        const whole = typeof kept === "string" && [...kept].sort().join("") === [...start].sort().join("");
        sort(whole ? kept : start);
        done.checked = whole;
      },
      look: () => (done.checked ? { state: "fine" } : { state: "empty" }),
      show: () => {},
      code: () => (done.checked ? JSON.stringify(letters()) : "None"),
    };
  }

  function wordsItem(item, place, label) {
    const area = element("textarea", { rows: "8", "aria-label": `Your answer to ${label}` });
    area.addEventListener("input", changed);
    place.append(area);
    return {
      words: true,
      value: () => area.value,
      put: (kept) => (area.value = kept ?? ""),
      look: () => (area.value.trim() ? { state: "fine" } : { state: "empty" }),
      show: () => {},
    };
  }

  const MAKERS = { number: numberItem, choice: choiceItem, order: orderItem, words: wordsItem };

  // Keeping -----------------------------------------------------------------------------------------------------

  function state() {
    return {
      format: 1,
      paper: paper.paper,
      answers: Object.fromEntries([...items].map(([name, item]) => [name, item.value()])),
      working: Object.fromEntries([...working].map(([name, area]) => [name, area.value])),
    };
  }

  function put(kept) {
    for (const [name, item] of items) item.put(kept?.answers?.[name]);
    for (const [name, area] of working) {
      area.value = kept?.working?.[name] ?? "";
      if (area.value) area.closest("details").open = true;
    }
    lookAtAll();
  }

  // In a classroom what is typed is saved at the school too; the page that is worked by itself has nothing of that.
  let school = null;

  const { keep, keepSoon, found: kept, forget } = keeping(
    KEY,
    () => ({ ...state(), at: new Date().toISOString(), ...(school && { school: school.notes() }) }),
    (keeps) => {
      const at = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
      one("[data-kept]").textContent = keeps ? `Kept in this browser at ${at}` : "This browser keeps nothing: save your script often.";
      school?.changed();
    },
  );

  function changed() {
    lookAtAll();
    keepSoon();
    school?.changed();
  }

  // Looking -----------------------------------------------------------------------------------------------------

  function lookAtAll() {
    const looks = new Map();
    for (const [name, item] of items) {
      const look = item.look();
      item.show(look);
      looks.set(name, look);
    }
    const wanted = [...items].filter(([, item]) => !item.onTheWay);
    const answered = wanted.filter(([name]) => looks.get(name).state !== "empty").length;
    one("[data-progress]").textContent = `${answered} of ${wanted.length} answered`;
    one("[data-progress-short]").textContent = `${answered} of ${wanted.length}`;
    const lines = [];
    for (const [name, item] of items) {
      const { state: found, says } = looks.get(name);
      if (found === "fine" || (found === "empty" && item.onTheWay)) continue;
      const jump = element("a", { href: `#ask-${item.part}` }, item.label);
      lines.push(element("li", {}, jump, found === "empty" ? `: ${NAMES_OF_STATE.empty}` : `: ${says}`));
    }
    const summary = lines.length
      ? [element("p", {}, "Look at these again. You may hand in without them."), element("ul", {}, ...lines)]
      : [element("p", {}, "Everything is answered, and every answer has the form that it should have.")];
    one("[data-look]").replaceChildren(...summary);
  }

  const say = (text) => (one("[data-said]").textContent = text);

  // The script --------------------------------------------------------------------------------------------------

  function fenced(text) {
    const longest = Math.max(2, ...[...text.matchAll(/`+/g)].map(([ticks]) => ticks.length));
    const fence = "`".repeat(longest + 1);
    return `${fence}text\n${text.replace(/\r\n?/g, "\n").trimEnd()}\n${fence}`;
  }

  function script() {
    const notebook = structuredClone(paper.notebook);
    const cells = [];
    for (const cell of notebook.cells) {
      cells.push(cell);
      const part = paper.parts.find((each) => each.cell === cell.id);
      if (part === undefined) continue;
      if (cell.cell_type === "markdown") {
        const text = items.get(part.items[0]).value().replace(/\r\n?/g, "\n").trim();
        if (text) cell.source = text;
        continue;
      }
      cell.source = part.items.map((name) => `answer(${JSON.stringify(name)}, ${items.get(name).code()})`).join("\n");
      const worked = working.get(part.name)?.value ?? "";
      if (worked.trim()) {
        cells.push({ cell_type: "markdown", id: `working-${part.name}`, metadata: {}, source: `Working for ${part.name}:\n\n${fenced(worked)}` });
      }
    }
    notebook.cells = cells;
    notebook.metadata.pitside.worksheet = state();
    return `${JSON.stringify(notebook, null, 1)}\n`;
  }

  function save() {
    keep();
    const link = element("a", { href: URL.createObjectURL(new Blob([script()], { type: "application/x-ipynb+json" })), download: paper.file });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    say(`Saved ${paper.file}: look for it where this browser puts downloads. On a shared computer, clear this page when you have handed it in.`);
  }

  async function openSaved(file) {
    let found;
    try {
      found = JSON.parse(await file.text())?.metadata?.pitside;
    } catch {
      found = undefined;
    }
    if (found === undefined || found === null || typeof found !== "object") {
      say(`${file.name} is no script. Open the file that “Save my script” made.`);
    } else if (found.paper !== paper.paper) {
      say(`${file.name} belongs to another paper (${String(found.paper).slice(0, 60)}); this one is ${paper.paper}. Nothing was changed.`);
    } else if (typeof found.worksheet !== "object" || found.worksheet === null) {
      say(`${file.name} was not written by this page, so it cannot be opened here. Go on with it in the notebook.`);
    } else {
      put(found.worksheet);
      keep();
      say(`Opened ${file.name}.`);
    }
  }

  // Start -------------------------------------------------------------------------------------------------------

  for (const part of paper.parts) {
    for (const name of part.items) {
      const item = paper.items[name];
      const place = one(`[data-place="${CSS.escape(name)}"]`);
      const made = MAKERS[item.kind](item, place, item.words);
      items.set(name, Object.assign(made, { part: part.name, label: item.words, onTheWay: Boolean(item.on_the_way) }));
    }
  }
  for (const area of all("[data-working]")) {
    working.set(area.dataset.working, area);
    area.addEventListener("input", changed);
  }
  // A unit picked in one cell of a column is picked in its other cells that have none yet.
  for (const table of all("table")) {
    const columns = new Map();
    for (const select of table.querySelectorAll("td select")) {
      const column = select.closest("td").cellIndex;
      columns.set(column, [...(columns.get(column) ?? []), select]);
    }
    for (const column of columns.values()) {
      for (const select of column) {
        select.addEventListener("change", () => {
          for (const other of column) if (other.value === "") other.value = select.value;
          changed();
        });
      }
    }
  }
  // A table of a setting that is wider than the screen scrolls in a box of its own.
  for (const table of all(".setting table")) {
    const box = element("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Table of the exercise" });
    table.before(box);
    box.append(table);
  }
  for (const button of all("[data-save]")) button.addEventListener("click", save);
  one("[data-open]").addEventListener("click", () => one("[data-file]").click());
  one("[data-file]").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    if (file) await openSaved(file);
    event.target.value = "";
  });
  one("[data-clear]").addEventListener("click", () => {
    one("[data-sure-text]").textContent = `All answers and working of ${paper.candidate} leave this browser. A script that was saved stays where it is.`;
    one("[data-sure]").returnValue = "keep";
    one("[data-sure]").showModal();
  });
  one("[data-sure]").addEventListener("close", (event) => {
    if (event.target.returnValue !== "clear") return;
    forget();
    put(null);
    one("[data-kept]").textContent = "";
    for (const area of working.values()) area.closest("details").open = false;
    say("Cleared. Nothing of this paper is kept in this browser.");
    scrollTo(0, 0);
    school?.cleared();
  });
  const fields = new Map([
    ...[...items].map(([name, item]) => [name, { value: item.value, put: item.put, label: item.label }]),
    ...[...working].map(([name, area]) => [
      `working ${name}`,
      { value: () => area.value, put: (text) => (area.value = text ?? ""), label: area.getAttribute("aria-label") },
    ]),
  ]);
  if (typeof savingAtSchool === "function") school = savingAtSchool(fields, { lookAtAll, keep, say });
  const before = kept();
  put(before);
  school?.begin(before?.school);
  if (before?.at) {
    say(`What was typed here until ${new Date(before.at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" })} is back.`);
  }
})();
