// The key-in page: answers from printed sheets, typed by keyboard, one candidate after another, kept and saved together.
// It holds nothing that could tell whether an answer is right.
"use strict";

(() => {
  const sheets = JSON.parse(document.getElementById("sheets").textContent);
  const KEY = `pitside-keyin ${sheets.school} ${sheets.sitting} ${sheets.attempt}`;
  const { unitPicker, valueOf, putInto, settle, lookAtNumber } = answerForm(sheets.kinds, sheets.spellings);
  const one = (selector) => document.querySelector(selector);
  const say = (text) => (one("[data-said]").textContent = text);
  const itemsOf = (candidate) => candidate.exercises.flatMap((exercise) => exercise.parts.flatMap((part) => part.items));

  // What is kept: of each paper whether it is done, and its answers by item.
  let kept = {};
  let current = null;
  let fields = [];
  const undone = [];

  // Forms of answers --------------------------------------------------------------------------------------------------

  function lookAtLetters(item, typed) {
    if (typed === "") return { state: "empty", says: "" };
    const strange = [...typed].filter((letter) => !item.letters.includes(letter));
    const all = [...item.letters].join(", ");
    if (strange.length) return { state: "look", says: `“${strange.join("")}” is none of the letters ${all}.` };
    if (item.kind === "choice") {
      return typed.length === 1 ? { state: "fine", says: "" } : { state: "look", says: "One letter is asked for." };
    }
    const twice = [...new Set(typed)].filter((letter) => typed.split(letter).length > 2);
    if (twice.length) return { state: "look", says: `${twice.join(", ")} stands there more than once.` };
    const missing = [...item.letters].filter((letter) => !typed.includes(letter));
    return missing.length ? { state: "look", says: `Missing: ${missing.join(", ")}.` } : { state: "fine", says: "" };
  }

  const isEmpty = (item, value) => (item.kind === "number" ? !value?.typed?.trim() : !value?.trim());

  function lookAt(item, value) {
    if (isEmpty(item, value)) return { state: "empty", says: "" };
    if (item.kind === "number") return lookAtNumber(item, value.typed, value.unit);
    return item.kind === "words" ? { state: "fine", says: "" } : lookAtLetters(item, value);
  }

  // A field: its row on the page, its controls in the order of typing, value(), put(value), and show(look).
  function field(item, label, part) {
    const id = `value-${item.name}`;
    const check = element("p", { class: "check", id: `check-${item.name}`, role: "status" });
    const row = element("div", { class: `line-of-item ${item.kind}` }, element("label", { for: id }, ...label));
    const look = { id, autocomplete: "off", spellcheck: "false", "aria-describedby": check.id, "data-item": item.name };
    let made;
    if (item.kind === "words") {
      const area = element("textarea", { ...look, rows: "5", dir: "auto", maxlength: sheets.longest_words });
      made = { controls: [area], value: () => area.value, put: (value) => (area.value = value ?? "") };
    } else {
      const input = element("input", { ...look, type: "text", maxlength: sheets.longest_typed });
      if (item.kind === "number") {
        input.inputMode = "decimal";
        const select = unitPicker(`unit-${item.name}`, item, `Unit of ${part}, ${item.name}`);
        select.dataset.item = item.name;
        made = {
          controls: [input, select],
          value: () => valueOf(input, select),
          put: (value) => putInto(input, select, { typed: value?.typed ?? "", unit: value?.unit ?? item.unit }),
          settle: () => settle(input, select),
        };
        input.addEventListener("change", () => settle(input, select));
      } else {
        input.classList.add("letters");
        made = {
          controls: [input],
          value: () => input.value.toUpperCase().replace(/[\s,;.>→-]/g, ""),
          put: (value) => (input.value = value ?? ""),
        };
      }
    }
    row.append(...made.controls, check);
    made.show = ({ state, says }) => {
      check.dataset.state = state;
      check.textContent = says;
      made.controls[0].toggleAttribute("aria-invalid", state === "look");
    };
    return { ...made, item, row };
  }

  // Keeping -----------------------------------------------------------------------------------------------------------

  const { keep, keepSoon, found: keptBefore } = keeping(
    KEY,
    () => (Object.keys(kept).length ? { format: sheets.format, papers: kept } : null),
    (keeps) => (one("[data-kept]").textContent = keeps ? "Kept in this browser" : "This browser keeps nothing: save often."),
  );

  function restore() {
    const papers = keptBefore()?.papers;
    if (typeof papers !== "object" || papers === null) return;
    for (const { paper } of sheets.candidates) {
      const answers = papers[paper]?.answers;
      if (typeof answers === "object" && answers !== null) kept[paper] = { done: papers[paper].done === true, answers };
    }
  }

  // Taking in, and taking back ----------------------------------------------------------------------------------------

  // One step to be taken back is one answer, however many keys it took, or a candidate who was cleared.
  function remember(paper, name) {
    const last = undone.at(-1);
    if (name !== null && last?.paper === paper && last.name === name) return;
    undone.push({ paper, name, before: structuredClone(kept[paper]) });
    if (undone.length > 500) undone.shift();
    one("[data-undo]").disabled = false;
  }

  function changed(made) {
    const { paper } = current;
    remember(paper, made.item.name);
    kept[paper] ??= { done: false, answers: {} };
    const value = made.value();
    const isBlank = isEmpty(made.item, value) && (value.unit ?? "") === (made.item.unit ?? "");
    if (isBlank) delete kept[paper].answers[made.item.name];
    else kept[paper].answers[made.item.name] = value;
    lookAtAll();
    keepSoon();
  }

  function undo() {
    const last = undone.pop();
    one("[data-undo]").disabled = undone.length === 0;
    if (last === undefined) return say("There is nothing to take back.");
    if (last.before === undefined) delete kept[last.paper];
    else kept[last.paper] = last.before;
    const candidate = sheets.candidates.find(({ paper }) => paper === last.paper);
    open(candidate, last.name);
    say(last.name ? `Taken back: ${candidate.id}, ${last.name}.` : `Taken back: the answers of ${candidate.id} are there again.`);
    return keep();
  }

  // Candidates --------------------------------------------------------------------------------------------------------

  const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  let shown = [];
  let chosen = 0;

  function stateOf(candidate) {
    const found = kept[candidate.paper];
    const items = itemsOf(candidate).filter((item) => !item.on_the_way);
    const answered = items.filter((item) => !isEmpty(item, found?.answers[item.name])).length;
    if (found?.done) return `keyed in, ${answered} of ${items.length} answered`;
    if (answered) return `begun, ${answered} of ${items.length} answered`;
    if (candidate.script) return `has a script: ${candidate.script}`;
    return candidate.fault ? "a file came that cannot be marked" : "";
  }

  const isOpen = (candidate) => !candidate.script && !kept[candidate.paper]?.done;

  function list() {
    const typed = plain(one("#who").value.trim());
    shown = sheets.candidates.filter(({ id, name }) => plain(id).includes(typed) || plain(name).includes(typed));
    const exact = shown.findIndex(({ id }) => plain(id) === typed);
    const next = shown.findIndex(isOpen);
    chosen = Math.max(0, exact >= 0 ? exact : next);
    const lines = shown.map((candidate, at) => {
      const line = element(
        "li",
        { role: "option", id: `candidate-${candidate.id}`, "aria-selected": "false", "data-done": kept[candidate.paper]?.done === true },
        element("b", {}, candidate.id),
        element("bdi", {}, candidate.name),
        element("span", { class: "state" }, stateOf(candidate)),
      );
      line.addEventListener("click", () => open(shown[at]));
      return line;
    });
    one("#candidates").replaceChildren(...lines);
    choose(chosen);
    const done = sheets.candidates.filter(({ paper }) => kept[paper]?.done).length;
    const begun = sheets.candidates.filter(({ paper }) => kept[paper] && !kept[paper].done).length;
    const there = sheets.candidates.filter(({ script }) => script).length;
    const more = [begun ? `${begun} begun` : "", there ? `${there} have a script` : ""].filter(Boolean).join(", ");
    one("[data-progress]").textContent = `${done} of ${sheets.candidates.length} keyed in${more ? `, ${more}` : ""}`;
  }

  function choose(at) {
    const lines = [...one("#candidates").children];
    chosen = Math.min(Math.max(at, 0), lines.length - 1);
    lines.forEach((line, each) => line.setAttribute("aria-selected", String(each === chosen)));
    if (lines.length) one("#who").setAttribute("aria-activedescendant", lines[chosen].id);
    else one("#who").removeAttribute("aria-activedescendant");
    if (document.activeElement === one("#who")) lines[chosen]?.scrollIntoView({ block: "nearest" });
  }

  function pick() {
    current = null;
    fields = [];
    one("[data-form]").hidden = true;
    one("[data-picker]").hidden = false;
    one("#who").value = "";
    one("#who").focus();
    list();
  }

  one("#who").addEventListener("input", list);
  one("#who").addEventListener("keydown", (event) => {
    if (event.isComposing) return;
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step) {
      event.preventDefault();
      choose(chosen + step);
    } else if (event.key === "Enter") {
      event.preventDefault();
      if (shown.length) open(shown[chosen]);
      else say("No candidate has such an id or name.");
    }
  });

  // The form ----------------------------------------------------------------------------------------------------------

  function open(candidate, name = null) {
    current = candidate;
    fields = [];
    one("#form-title").replaceChildren(`${candidate.id} `, element("bdi", {}, candidate.name), element("span", { class: "marks" }, ` paper ${candidate.paper}`));
    const has = one("[data-has-script]");
    has.hidden = !candidate.script && !candidate.fault;
    has.textContent = candidate.script
      ? `There is a script already: ${candidate.script}. Of two scripts for one paper none can be marked.`
      : `A file came that cannot be marked. ${candidate.fault}`;
    const parts = [];
    for (const exercise of candidate.exercises) {
      parts.push(element("h3", {}, exercise.title));
      for (const part of exercise.parts) {
        const entry = element("div", { class: "entry", role: "group", "aria-label": part.label });
        const ask = [element("span", { class: "key" }, part.label), ` ${part.ask}`];
        const single = part.items.length === 1;
        if (!single) entry.append(element("p", { class: "ask" }, ...ask));
        for (const item of part.items) {
          const hint = labelOf(item, part);
          const made = field(item, single ? [...ask, element("span", { class: "hint" }, hint)] : [hint], part.label);
          made.put(kept[candidate.paper]?.answers[item.name]);
          for (const control of made.controls) control.addEventListener("input", () => changed(made));
          fields.push(made);
          entry.append(made.row);
        }
        parts.push(entry);
      }
    }
    one("[data-parts]").replaceChildren(...parts);
    one("[data-picker]").hidden = true;
    one("[data-form]").hidden = false;
    lookAtAll();
    list();
    const first = fields.find(({ item }) => item.name === name) ?? fields[0];
    first.controls[0].focus();
    if (name === null) scrollTo(0, one("[data-form]").offsetTop - one(".bar").offsetHeight - 16);
    say("");
  }

  function labelOf(item, part) {
    if (item.kind === "choice") return `Letter (${item.letters[0]} to ${item.letters.at(-1)})`;
    if (item.kind === "order") return `Letters (${item.letters[0]} to ${item.letters.at(-1)}), the first step first`;
    if (item.kind === "words") return "Answer in words";
    if (item.on_the_way) return `${item.name}, on the way: ${item.label}`;
    if (part.items.length === 1) return "";
    return item.label ? `${item.name}: ${item.label}` : `Number ${item.name}`;
  }

  function lookAtAll() {
    const empty = [];
    const odd = [];
    for (const made of fields) {
      const look = lookAt(made.item, made.value());
      made.show(look);
      if (look.state === "look") odd.push(made.item.name);
      if (look.state === "empty" && !made.item.on_the_way) empty.push(made.item.name);
    }
    const lines = [odd.length ? `Look again at ${odd.join(", ")}.` : "", empty.length ? `Blank: ${empty.join(", ")}.` : ""];
    one("[data-look]").textContent = lines.filter(Boolean).join(" ") || "Every answer is there, in the form that it should have.";
  }

  function go(from, step) {
    const at = fields.findIndex(({ controls }) => controls.includes(from));
    const { controls, item, settle: settled } = fields[at];
    settled?.();
    // A unit that is not set is the next thing to type; one that is printed on the sheet is passed over.
    if (step > 0 && item.kind === "number" && from === controls[0] && from.value.trim() && controls[1].value === "") {
      controls[1].focus();
      return;
    }
    const next = fields[at + step]?.controls[0] ?? (step > 0 ? one("[data-done]") : from);
    next.focus();
    next.select?.();
    next.scrollIntoView({ block: "nearest" });
  }

  one("[data-form]").addEventListener("keydown", (event) => {
    const { target, key } = event;
    if (event.isComposing) return;
    if (key === "Escape") {
      event.preventDefault();
      pick();
    } else if (target.dataset.item !== undefined) {
      const lines = target.tagName === "TEXTAREA";
      const moves = target.tagName === "INPUT" && !event.altKey;
      const step = (key === "Enter" && (!lines || event.ctrlKey || event.metaKey)) || (moves && key === "ArrowDown") ? 1 : moves && key === "ArrowUp" ? -1 : 0;
      if (step) {
        event.preventDefault();
        go(target, step);
      }
    } else if (key === "ArrowUp" && target === one("[data-done]")) {
      event.preventDefault();
      fields.at(-1).controls[0].focus();
    }
  });
  addEventListener("keydown", (event) => {
    const takesBack = (event.ctrlKey || event.metaKey) && !event.shiftKey && event.key.toLowerCase() === "z";
    if (!takesBack || document.activeElement.tagName === "TEXTAREA" || document.activeElement.id === "who" && one("#who").value) return;
    event.preventDefault();
    undo();
  });

  function done() {
    kept[current.paper] ??= { done: false, answers: {} };
    remember(current.paper, null);
    kept[current.paper].done = true;
    keep();
    const { id } = current;
    pick();
    const left = sheets.candidates.filter(isOpen).length;
    say(left ? `${id} is keyed in. ${left} to go.` : `${id} is keyed in. All candidates without a script are: save all.`);
  }

  // Saving ------------------------------------------------------------------------------------------------------------

  function save() {
    keep();
    const finished = sheets.candidates.filter(({ paper }) => kept[paper]?.done);
    const begun = sheets.candidates.filter(({ paper }) => kept[paper] && !kept[paper].done).map(({ id }) => id);
    if (finished.length === 0) return say("Nobody is done yet: finish a candidate with Done, then save.");
    const { format, what, school, sitting, attempt } = sheets;
    const candidates = finished.map((candidate) => {
      const { answers } = kept[candidate.paper];
      const given = itemsOf(candidate).filter((item) => !isEmpty(item, answers[item.name]));
      return { id: candidate.id, paper: candidate.paper, answers: Object.fromEntries(given.map(({ name }) => [name, answers[name]])) };
    });
    const text = `${JSON.stringify({ format, what, school, sitting, attempt, candidates }, null, 1)}\n`;
    const link = element("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: sheets.file });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    const not = begun.length ? ` Not in it, since not done: ${begun.join(", ")}.` : "";
    return say(`Saved ${sheets.file} with ${finished.length} ${finished.length === 1 ? "candidate" : "candidates"}.${not}`);
  }

  one("[data-save]").addEventListener("click", save);
  one("[data-undo]").addEventListener("click", undo);
  one("[data-done]").addEventListener("click", done);
  one("[data-back]").addEventListener("click", pick);
  one("[data-clear-one]").addEventListener("click", () => {
    const candidate = current;
    remember(candidate.paper, null);
    delete kept[candidate.paper];
    keep();
    open(candidate);
    say(`Cleared ${candidate.id}. Undo brings it back.`);
  });
  one("[data-clear]").addEventListener("click", () => {
    one("[data-sure]").returnValue = "keep";
    one("[data-sure]").showModal();
  });
  one("[data-sure]").addEventListener("close", (event) => {
    if (event.target.returnValue !== "clear") return;
    kept = {};
    undone.length = 0;
    one("[data-undo]").disabled = true;
    keep();
    pick();
    one("[data-kept]").textContent = "";
    say("Cleared. Nothing of these sheets is kept in this browser.");
  });

  restore();
  one("[data-undo]").disabled = true;
  pick();
  if (Object.keys(kept).length) say("What was typed here before is back.");
})();
