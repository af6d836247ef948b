// The observer's page: tasks seen one candidate after another, by touch or by keyboard alone, kept and saved together.
"use strict";

(() => {
  const sheets = JSON.parse(document.getElementById("sheets").textContent);
  const KEY = `pitside-observe ${sheets.school} ${sheets.sitting} ${sheets.attempt}`;
  const { unitPicker, valueOf, putInto, settle, lookAtNumber } = answerForm(sheets.kinds, sheets.spellings);
  const one = (selector) => document.querySelector(selector);
  const say = (text) => (one("[data-said]").textContent = text);

  // What is kept: who observes where, and of each paper and task what was seen.
  let kept = { observer: "", place: "", seen: {} };
  let task = 0;
  let current = null;
  let fields = [];
  let ticking;
  const undone = [];

  const nameOf = (candidate, number = task) => `${candidate.paper} ${number + 1}`;
  const seenOf = (candidate, number = task) => kept.seen[nameOf(candidate, number)];
  const finished = () => Object.values(kept.seen).filter(({ done }) => done);

  // Keeping -----------------------------------------------------------------------------------------------------------

  const { keep, keepSoon, found: keptBefore } = keeping(
    KEY,
    () => (kept.observer || Object.keys(kept.seen).length ? { format: sheets.format, ...kept } : null),
    (keeps) => (one("[data-kept]").textContent = keeps ? "Kept in this browser" : "This browser keeps nothing: save often."),
  );

  function restore() {
    const before = keptBefore();
    if (typeof before?.seen !== "object" || before.seen === null || before.format !== sheets.format) return;
    const known = new Set(sheets.candidates.flatMap((candidate) => sheets.tasks.map((_, number) => nameOf(candidate, number))));
    const seen = Object.entries(before.seen).filter(([name, { answers } = {}]) => known.has(name) && typeof answers === "object");
    kept = { observer: String(before.observer ?? ""), place: String(before.place ?? ""), seen: Object.fromEntries(seen) };
  }

  function remember(item) {
    const name = nameOf(current);
    const last = undone.at(-1);
    if (item !== null && last?.name === name && last.item === item) return;
    undone.push({ name, item, id: current.id, number: task, before: structuredClone(kept.seen[name]) });
    if (undone.length > 500) undone.shift();
    one("[data-undo]").disabled = false;
  }

  function undo() {
    const last = undone.pop();
    one("[data-undo]").disabled = undone.length === 0;
    if (last === undefined) return say("There is nothing to take back.");
    if (last.before === undefined) delete kept.seen[last.name];
    else kept.seen[last.name] = last.before;
    task = last.number;
    one("#task").value = String(task);
    open(sheets.candidates.find(({ id }) => id === last.id), last.item);
    say(`Taken back: ${last.id}, ${sheets.tasks[task].title}.`);
    return keep();
  }

  // The list ----------------------------------------------------------------------------------------------------------

  function stateOf(candidate) {
    const seen = seenOf(candidate);
    const items = candidate.asked[task].length;
    const before = candidate.before[String(task + 1)];
    if (seen?.done) return ["finished", `finished, ${answered(seen)} of ${items} seen`];
    if (seen) return ["begun", `begun, ${answered(seen)} of ${items} seen`];
    return before ? ["before", `seen before by ${before}: you would be the second observer`] : ["open", "not seen yet"];
  }

  const isEmpty = (value) => (typeof value === "string" ? value === "" : !value?.typed?.trim());
  const answered = (seen) => Object.values(seen.answers).filter((value) => !isEmpty(value)).length;

  function list() {
    const lines = sheets.candidates.map((candidate) => {
      const [state, text] = stateOf(candidate);
      const button = element("button", { type: "button", "data-state": state, "data-id": candidate.id },
        element("b", {}, candidate.id), element("bdi", {}, candidate.name), element("span", { class: "state" }, text));
      button.addEventListener("click", () => open(candidate));
      return element("li", {}, button);
    });
    one("#candidates").replaceChildren(...lines);
    const done = sheets.candidates.filter((candidate) => seenOf(candidate)?.done).length;
    one("[data-progress]").textContent = `${done} of ${sheets.candidates.length} finished at this task, ${finished().length} in all`;
  }

  function pick() {
    stopClock();
    current = null;
    fields = [];
    one("[data-form]").hidden = true;
    one("[data-picker]").hidden = false;
    one("[data-about-you]").hidden = false;
    list();
  }

  // The clock ---------------------------------------------------------------------------------------------------------

  function minutesOf(seen) {
    return seen.minutes + (seen.since ? (Date.now() - seen.since) / 60_000 : 0);
  }

  function tick() {
    const seen = current && seenOf(current);
    const seconds = Math.max(0, Math.floor((seen ? minutesOf(seen) : 0) * 60));
    one("[data-clock]").textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")} of ${sheets.tasks[task].minutes}:00`;
    one("[data-begin]").textContent = seen?.since ? "Pause" : seen?.begun ? "Go on" : "Begin";
  }

  function stopClock() {
    clearInterval(ticking);
    const seen = current && seenOf(current);
    if (seen?.since) {
      seen.minutes = minutesOf(seen);
      delete seen.since;
    }
  }

  function begin() {
    const seen = made();
    if (seen.since) stopClock();
    else {
      seen.since = Date.now();
      clearInterval(ticking);
      ticking = setInterval(tick, 1000);
    }
    tick();
    keep();
  }

  function localTime() {
    const now = new Date();
    return new Date(now - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
  }

  function made() {
    return (kept.seen[nameOf(current)] ??= { id: current.id, paper: current.paper, task: task + 1, begun: localTime(), minutes: 0, answers: {}, note: "", done: false });
  }

  // The form ----------------------------------------------------------------------------------------------------------

  function put(item, value) {
    remember(item.name);
    const seen = made();
    if (isEmpty(value)) delete seen.answers[item.name];
    else seen.answers[item.name] = value;
    seen.done = false;
    lookAtAll();
    keepSoon();
  }

  function stepField(asked) {
    const { item } = asked;
    const group = element("div", { class: "saids" });
    const inputs = sheets.seen.map(({ letter, text }) => {
      const input = element("input", { type: "radio", name: `seen-${item.name}`, value: letter, "data-item": item.name });
      input.addEventListener("change", () => put(item, letter));
      group.append(element("label", {}, input, element("span", {}, text)));
      return input;
    });
    const legend = element("legend", {});
    if (item.critical) legend.append(element("span", { class: "critical" }, "Critical: "));
    legend.insertAdjacentHTML("beforeend", asked.ask);
    return {
      item,
      row: element("li", {}, element("fieldset", {}, legend, group)),
      controls: inputs,
      put: (value) => inputs.forEach((input) => (input.checked = input.value === value)),
      value: () => inputs.find(({ checked }) => checked)?.value ?? "",
      look: () => ({ state: inputs.some(({ checked }) => checked) ? "fine" : "empty", says: "" }),
    };
  }

  function numberField(asked) {
    const { item } = asked;
    const id = `value-${item.name}`;
    const check = element("p", { class: "check", id: `check-${item.name}`, role: "status" });
    const input = element("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", maxlength: sheets.longest_typed, "aria-describedby": check.id, "data-item": item.name });
    const select = unitPicker(`unit-${item.name}`, item, `Unit of ${item.name}`);
    const label = element("label", { for: id });
    label.innerHTML = asked.ask;
    const value = () => valueOf(input, select);
    input.addEventListener("change", () => settle(input, select));
    for (const control of [input, select]) control.addEventListener("input", () => put(item, value()));
    return {
      item,
      row: element("li", {}, label, element("div", { class: "number" }, input, select, check)),
      controls: [input],
      put: (given) => putInto(input, select, { typed: given?.typed ?? "", unit: given?.unit ?? item.unit }),
      value,
      look() {
        const look = lookAtNumber(item, value().typed, value().unit);
        check.dataset.state = look.state;
        check.textContent = look.says;
        return look;
      },
    };
  }

  function open(candidate, item = null) {
    if (!one("#observer").value.trim()) {
      say("Type your own name first.");
      return one("#observer").focus();
    }
    current = candidate;
    const { title, place, minutes, kit, conditions, cautions } = sheets.tasks[task];
    one("#form-title").replaceChildren(`${title}: ${candidate.id} `, element("bdi", {}, candidate.name));
    const told = element("p", {});
    told.innerHTML = candidate.told[task];
    const points = (heading, texts) => [element("h3", {}, heading), element("ul", {}, ...texts.map((text) => element("li", {}, text)))];
    one("[data-about]").replaceChildren(
      element("h3", {}, "Say to the candidate"), told, ...points("What can hurt", cautions), ...points("Before you begin", conditions),
      element("p", { class: "quiet" }, `At: ${place}. ${minutes} minutes. Kit: ${kit.join(", ")}.`),
    );
    const seen = seenOf(candidate);
    fields = candidate.asked[task].map((asked) => (asked.item.kind === "watched" ? stepField(asked) : numberField(asked)));
    for (const field of fields) field.put(seen?.answers[field.item.name] ?? (field.item.kind === "watched" ? "" : undefined));
    one("[data-parts]").replaceChildren(...fields.map(({ row }) => row));
    one("#note").value = seen?.note ?? "";
    one("[data-picker]").hidden = true;
    one("[data-about-you]").hidden = true;
    one("[data-form]").hidden = false;
    lookAtAll();
    list();
    tick();
    if (seen?.since) ticking = setInterval(tick, 1000);
    const at = fields.find((field) => field.item.name === item);
    (at ? at.controls[0] : one("#form-title")).focus();
    if (!at) scrollTo(0, one("[data-form]").offsetTop - one(".bar").offsetHeight - 16);
    return say("");
  }

  function lookAtAll() {
    const open = [];
    const odd = [];
    fields.forEach((field, at) => {
      const { state } = field.look();
      field.row.dataset.answered = String(state === "fine");
      if (state === "look") odd.push(at + 1);
      if (state === "empty") open.push(at + 1);
    });
    const lines = [odd.length ? `Look again at ${odd.join(", ")}.` : "", open.length ? `Nothing said of ${open.join(", ")}: it counts as not observed.` : ""];
    one("[data-look]").textContent = lines.filter(Boolean).join(" ") || "Something is said of every step.";
  }

  one("[data-form]").addEventListener("keydown", (event) => {
    if (event.isComposing || event.altKey || event.ctrlKey || event.metaKey) return;
    const at = fields.findIndex(({ controls }) => controls.includes(event.target));
    if (event.key === "Escape") {
      event.preventDefault();
      pick();
      one(`#candidates button`)?.focus();
    } else if (at >= 0 && event.target.type === "radio") {
      const field = fields[at];
      const letter = event.key.toUpperCase();
      const step = { ArrowDown: 1, ArrowUp: -1, Enter: 1 }[event.key];
      if (sheets.seen.some((seen) => seen.letter === letter)) {
        event.preventDefault();
        field.put(letter);
        put(field.item, letter);
        go(at + 1);
      } else if (step) {
        event.preventDefault();
        go(at + step);
      }
    } else if (at >= 0 && (event.key === "Enter" || event.key === "ArrowDown" || event.key === "ArrowUp")) {
      event.preventDefault();
      go(at + (event.key === "ArrowUp" ? -1 : 1));
    } else if (event.target === one("#form-title") && (event.key === "ArrowDown" || event.key === "Enter")) {
      event.preventDefault();
      go(0);
    }
  });

  function go(at) {
    if (at < 0) return;
    const { controls } = fields[at] ?? { controls: [one("[data-finish]")] };
    const next = controls.find(({ checked }) => checked) ?? controls[0];
    next.focus();
    next.scrollIntoView({ block: "center" });
  }

  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.shiftKey || event.key.toLowerCase() !== "z" || document.activeElement.id === "note") return;
    event.preventDefault();
    undo();
  });

  function finish() {
    remember(null);
    const seen = made();
    stopClock();
    seen.done = true;
    keep();
    const { id } = current;
    pick();
    const next = sheets.candidates.find((candidate) => !seenOf(candidate)?.done);
    one(next ? `#candidates button[data-id="${next.id}"]` : "[data-save]").focus();
    say(next ? `${id} is finished at this task.` : `${id} is finished, and so is everybody at this task: save all.`);
  }

  // Saving ------------------------------------------------------------------------------------------------------------

  // The file carries a checksum of the rest of it (CRC-32), so that one altered in an editor or cut off is seen.
  function checkOf(text) {
    let crc = 0xffffffff;
    for (const byte of new TextEncoder().encode(text)) {
      crc ^= byte;
      for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
    }
    return ((crc ^ 0xffffffff) >>> 0).toString(16).padStart(8, "0");
  }

  function save() {
    keep();
    const done = finished();
    if (done.length === 0) return say("No task is finished yet.");
    if (!kept.observer.trim()) return say("Type your own name first.");
    const { format, what, school, sitting, attempt } = sheets;
    const observed = done.map(({ id, paper, task: number, begun, minutes, answers, note }) => ({ id, paper, task: number, begun, minutes: Math.round(minutes * 10) / 10, answers, note }));
    const data = { format, what, school, sitting, attempt, observer: kept.observer.trim(), place: kept.place.trim(), observed };
    const name = kept.observer.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "observer";
    const file = `${sheets.file}_${name}.json`;
    const text = `${JSON.stringify({ ...data, check: checkOf(JSON.stringify(data)) }, null, 1)}\n`;
    const link = element("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: file });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    const begun = Object.values(kept.seen).length - done.length;
    return say(`Saved ${file} with ${done.length} ${done.length === 1 ? "task" : "tasks"}.${begun ? ` Not in it, since not finished: ${begun}.` : ""}`);
  }

  one("[data-save]").addEventListener("click", save);
  one("[data-undo]").addEventListener("click", undo);
  one("[data-begin]").addEventListener("click", () => {
    remember(null);
    begin();
  });
  one("[data-finish]").addEventListener("click", finish);
  one("[data-back]").addEventListener("click", pick);
  one("#note").addEventListener("input", () => {
    remember("note");
    made().note = one("#note").value;
    keepSoon();
  });
  for (const name of ["observer", "place"]) {
    one(`#${name}`).maxLength = sheets.longest_name;
    one(`#${name}`).addEventListener("input", (event) => {
      kept[name] = event.target.value;
      keepSoon();
    });
  }
  one("#note").maxLength = sheets.longest_note;
  one("#task").append(...sheets.tasks.map(({ title, minutes }, number) => element("option", { value: String(number) }, `${number + 1}. ${title} (${minutes} min)`)));
  one("#task").addEventListener("change", (event) => {
    task = Number(event.target.value);
    list();
  });
  one("[data-clear]").addEventListener("click", () => {
    one("[data-sure]").returnValue = "keep";
    one("[data-sure]").showModal();
  });
  one("[data-sure]").addEventListener("close", (event) => {
    if (event.target.returnValue !== "clear") return;
    kept = { observer: "", place: "", seen: {} };
    undone.length = 0;
    one("#observer").value = one("#place").value = "";
    one("[data-undo]").disabled = true;
    keep();
    pick();
    one("[data-kept]").textContent = "";
    say("Cleared. Nothing of these tasks is kept in this browser.");
  });

  restore();
  one("#observer").value = kept.observer;
  one("#place").value = kept.place;
  one("[data-undo]").disabled = true;
  pick();
  if (Object.keys(kept.seen).length) say("What was seen here before is back.");
})();
