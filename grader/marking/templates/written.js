// The page for written answers: points are ticked or marks typed by keyboard, one answer after another, kept and saved.
"use strict";

(() => {
  const sheet = JSON.parse(document.getElementById("written").textContent);
  const KEY = `pitside-written ${sheet.school}`;
  const one = (selector, within = document) => within.querySelector(selector);
  const say = (text) => (one("[data-said]").textContent = text);
  const counted = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;
  const NO_NAME = "Write your name or initials first: the record says who marked.";
  const everyAnswer = sheet.questions.flatMap((question) => question.answers);

  // What is kept: who marks, and of each answer by its tag the points ticked, the marks, the remark, and whether it is
  // done. `typed` is the text of the box where it is not the sum of the points.
  let kept = { marker: "", answers: {} };
  let current = null;
  let panel = null;

  function element(name, attributes, ...inside) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...inside);
    return made;
  }

  // Keeping -----------------------------------------------------------------------------------------------------------

  const { keep, keepSoon, found: keptBefore } = keeping(
    KEY,
    () => (kept.marker || Object.keys(kept.answers).length ? { format: sheet.format, ...kept } : null),
    (keeps) => (one("[data-kept]").textContent = keeps ? "Kept in this browser" : "This browser keeps nothing: save often."),
  );

  // An answer of another script or mark scheme than the one marked before has another state, and is marked anew.
  function restore() {
    const found = keptBefore();
    if (typeof found?.answers !== "object" || found.answers === null) return;
    if (typeof found.marker === "string") kept.marker = found.marker;
    for (const { tag, state } of everyAnswer) {
      const was = found.answers[tag];
      if (was?.state === state && Array.isArray(was.points)) kept.answers[tag] = was;
    }
  }

  // Marks -------------------------------------------------------------------------------------------------------------

  const sumOf = (question, points) => points.reduce((sum, at) => sum + question.points[at].marks, 0);

  // The marks in the box, or null where it holds none that the part can have.
  function marksIn(question, text) {
    const typed = text.trim().replace(",", ".");
    const marks = /^\d{1,4}(\.\d{1,3})?$/.test(typed) ? Number(typed) : null;
    return marks !== null && marks <= question.out_of && Number.isInteger(2 * marks) ? marks : null;
  }

  const marksOf = (question, was) => (was.typed === null ? sumOf(question, was.points) : marksIn(question, was.typed));

  const isDone = ({ tag }) => kept.answers[tag]?.done === true;

  // The panel ---------------------------------------------------------------------------------------------------------

  function makePanel(question) {
    const points = question.points.map((point, at) => {
      const box = element("input", { type: "checkbox", "data-point": at, id: `point-${at}` });
      const row = element(
        "label",
        { class: "point" },
        box,
        element("span", { class: "digit", "aria-hidden": "true" }, at < 9 ? String(at + 1) : ""),
        element("span", {}, point.text),
        element("span", { class: "worth" }, counted(point.marks, "mark")),
      );
      box.addEventListener("change", () => ticked());
      return { box, row };
    });
    const marks = element("input", { type: "text", inputmode: "decimal", id: "given", autocomplete: "off", "aria-describedby": "given-check", maxlength: "8" });
    const check = element("p", { class: "check", id: "given-check", role: "status" });
    const remark = element("textarea", { id: "remark", rows: "3", dir: "auto", maxlength: sheet.longest_remark });
    const done = element("button", { type: "button", class: "main" }, "Marked: next answer");
    const back = element("button", { type: "button" }, "Previous");
    const skip = element("button", { type: "button" }, "Leave it open: next");
    const all = element("button", { type: "button" }, "All questions");
    const made = element(
      "div",
      { class: "panel", role: "group", "aria-label": "Marks" },
      element("fieldset", {}, element("legend", {}, "Points of the mark scheme"), ...points.map(({ row }) => row)),
      element("p", { class: "line" }, element("label", { for: "given" }, "Marks"), marks, element("span", {}, `of ${question.out_of}`)),
      check,
      element("label", { class: "remark", for: "remark" }, "Remark for the candidate"),
      remark,
      element("div", { class: "bar-buttons" }, done, skip, back, all),
    );
    marks.addEventListener("input", () => changed(marks.value.trim() === "" ? null : marks.value));
    remark.addEventListener("input", () => changed());
    done.addEventListener("click", finish);
    skip.addEventListener("click", () => step(1));
    back.addEventListener("click", () => step(-1));
    all.addEventListener("click", list);
    return { made, points, marks, check, remark, done };
  }

  const ticks = () => panel.points.flatMap(({ box }, at) => (box.checked ? [at] : []));

  // Ticking a point brings the marks back to the sum of the points.
  function ticked() {
    changed(null);
    panel.marks.value = String(sumOf(current.question, ticks()));
  }

  function changed(typed) {
    const { tag, state } = current.answer;
    const was = kept.answers[tag];
    kept.answers[tag] = {
      state,
      points: ticks(),
      typed: typed === undefined ? (was?.typed ?? null) : typed,
      remark: panel.remark.value,
      done: was?.done === true,
    };
    current.sure = false;
    if (was?.done && marksOf(current.question, kept.answers[tag]) === null) kept.answers[tag].done = false;
    look();
    progress();
    keepSoon();
  }

  function look() {
    const was = kept.answers[current.answer.tag];
    const typed = was?.typed ?? null;
    const wrong = typed !== null && marksIn(current.question, typed) === null;
    panel.marks.toggleAttribute("aria-invalid", wrong);
    const sum = sumOf(current.question, was?.points ?? []);
    if (wrong) panel.check.textContent = `Marks are from 0 to ${current.question.out_of}, in halves.`;
    else if (typed !== null && was.points.length && marksIn(current.question, typed) !== sum) panel.check.textContent = `The points ticked come to ${sum}.`;
    else panel.check.textContent = was?.done ? "Marked." : "";
  }

  function open(question, at, focus = true) {
    hide();
    const answer = question.answers[at];
    const article = one(`[data-answer="${answer.tag}"]`);
    current = { question, at, answer, sure: false };
    panel = makePanel(question);
    one("[data-panel]", article).replaceChildren(panel.made);
    const was = kept.answers[answer.tag];
    panel.points.forEach(({ box }, number) => (box.checked = was?.points.includes(number) ?? false));
    panel.marks.value = was ? (was.typed ?? String(sumOf(question, was.points))) : "";
    panel.remark.value = was?.remark ?? "";
    one("[data-list]").hidden = true;
    one(`#${question.id}`).hidden = false;
    article.hidden = false;
    look();
    if (focus) (panel.points[0]?.box ?? panel.marks).focus({ preventScroll: true });
    scrollTo(0, article.offsetTop - one(".bar").offsetHeight - 16);
  }

  function hide() {
    for (const shown of document.querySelectorAll("main > .question, main > .question > article")) shown.hidden = true;
    if (panel) panel.made.remove();
    panel = null;
    current = null;
  }

  function step(by) {
    const { question, at } = current;
    const next = at + by;
    if (next < 0 || next >= question.answers.length) return say(by < 0 ? "This is the first answer." : "This is the last answer; Escape goes back to the questions.");
    say("");
    return open(question, next);
  }

  // The answer counts as marked. One without a tick and without marks may be a slip of the finger: it is asked once more.
  function finish() {
    const { question, at, answer } = current;
    const was = kept.answers[answer.tag];
    const marks = was ? marksOf(question, was) : 0;
    if (marks === null) {
      panel.marks.focus();
      return say(`Marks are from 0 to ${question.out_of}, in halves.`);
    }
    if (marks === 0 && (was?.typed ?? null) === null && !current.sure && !was?.done) {
      current.sure = true;
      return say("No point is ticked: once more, and it counts as 0 marks.");
    }
    kept.answers[answer.tag] = { ...(was ?? { state: answer.state, points: [], typed: null, remark: "" }), done: true };
    keep();
    progress();
    const order = [...question.answers.keys()];
    const next = [...order.slice(at + 1), ...order.slice(0, at)].find((each) => !isDone(question.answers[each]));
    if (next === undefined) {
      list();
      return say(`All answers to this question are marked. ${everyAnswer.every(isDone) ? "Save all." : ""}`);
    }
    open(question, next);
    const left = question.answers.filter((each) => !isDone(each)).length;
    return say(`${marks} of ${question.out_of}. ${left} to go.`);
  }

  // The list of questions ---------------------------------------------------------------------------------------------

  function list() {
    const from = current?.question;
    hide();
    one("[data-list]").hidden = false;
    progress();
    say("");
    const open = sheet.questions.find((question) => !question.answers.every(isDone));
    const to = from && !from.answers.every(isDone) ? from : open;
    // A digit that is pressed too often must not land in the name.
    const target = to && (from || kept.marker) ? `[data-open="${to.id}"]` : kept.marker ? "[data-save]" : "#marker";
    one(target).focus();
  }

  function progress() {
    const done = everyAnswer.filter(isDone).length;
    one("[data-progress]").textContent = `${done} of ${counted(everyAnswer.length, "answer")} marked`;
    for (const question of sheet.questions) {
      const of = question.answers.filter(isDone).length;
      one(`[data-state-of="${question.id}"]`).textContent = `${of} of ${question.answers.length} marked`;
      one(`[data-open="${question.id}"]`).toggleAttribute("data-done", of === question.answers.length);
    }
  }

  const buttons = [...document.querySelectorAll("[data-open]")];
  for (const button of buttons) {
    button.addEventListener("click", () => {
      const question = sheet.questions.find(({ id }) => id === button.dataset.open);
      say("");
      open(question, Math.max(0, question.answers.findIndex((answer) => !isDone(answer))));
    });
  }
  one("#marker").addEventListener("input", () => {
    kept.marker = one("#marker").value.trim();
    keepSoon();
  });

  // The keyboard ------------------------------------------------------------------------------------------------------

  function inList(event) {
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    const at = buttons.indexOf(document.activeElement);
    const onMarker = document.activeElement.id === "marker";
    if (event.key === "Enter" && onMarker) {
      event.preventDefault();
      if (!kept.marker) say(NO_NAME);
      else (buttons.find((button) => !button.hasAttribute("data-done")) ?? buttons[0])?.focus();
    } else if (by && (at >= 0 || (onMarker && by > 0))) {
      event.preventDefault();
      (buttons[at + by] ?? (by < 0 ? one("#marker") : buttons[at])).focus();
    }
  }

  function inPanel(event) {
    const { target, key } = event;
    const inText = target === panel.marks || target === panel.remark;
    const isButton = target.tagName === "BUTTON";
    const stops = [...panel.points.map(({ box }) => box), panel.marks, panel.remark, panel.done];
    const at = stops.indexOf(target);
    if (key === "Enter" && !isButton && (target !== panel.remark || event.ctrlKey || event.metaKey)) finish();
    else if (/^[1-9]$/.test(key) && !inText && panel.points[key - 1]) panel.points[key - 1].box.click();
    else if (key === "ArrowRight" && !inText) step(1);
    else if (key === "ArrowLeft" && !inText) step(-1);
    else if (key === "ArrowDown" && target !== panel.remark && at >= 0) stops[Math.min(at + 1, stops.length - 1)].focus();
    else if (key === "ArrowUp" && target !== panel.remark && at >= 0) stops[Math.max(at - 1, 0)].focus();
    else return;
    event.preventDefault();
  }

  addEventListener("keydown", (event) => {
    if (event.isComposing || one("[data-sure]").open || event.altKey) return;
    if (event.key === "Escape" && current) {
      event.preventDefault();
      list();
    } else if (current && panel.made.contains(event.target)) inPanel(event);
    else if (!current) inList(event);
  });

  // Saving ------------------------------------------------------------------------------------------------------------

  // The file carries a digest of the rest of it, so that one altered in an editor or cut off is seen.
  async function save() {
    keep();
    if (!kept.marker) {
      if (current) list();
      one("#marker").focus();
      return say(NO_NAME);
    }
    const answers = sheet.questions.flatMap((question) =>
      question.answers.filter(isDone).map(({ tag, state }) => {
        const was = kept.answers[tag];
        return { tag, state, points: was.points, marks: marksOf(question, was), remark: was.remark.trim() };
      }),
    );
    if (answers.length === 0) return say("No answer is marked yet: Enter counts one as marked.");
    const { format, what, school } = sheet;
    const body = { format, what, school, marker: kept.marker, saved: new Date().toISOString(), answers };
    if (!globalThis.crypto?.subtle) return say("This browser cannot seal the file: open the page in another.");
    const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(JSON.stringify(body)));
    const check = [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    const text = `${JSON.stringify({ ...body, check }, null, 1)}\n`;
    const name = `written_${kept.marker.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").toLowerCase() || "marks"}.json`;
    const link = element("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    const open = everyAnswer.length - answers.length;
    one("[data-file]").textContent = name;
    return say(`Saved ${name} with ${counted(answers.length, "answer")}.${open ? ` ${open} not marked yet.` : ""}`);
  }

  one("[data-save]").addEventListener("click", save);
  one("[data-clear]").addEventListener("click", () => {
    one("[data-sure]").returnValue = "keep";
    one("[data-sure]").showModal();
  });
  one("[data-sure]").addEventListener("close", (event) => {
    if (event.target.returnValue !== "clear") return;
    kept = { marker: "", answers: {} };
    one("#marker").value = "";
    keep();
    list();
    one("[data-kept]").textContent = "";
    say("Cleared. Nothing of these answers is kept in this browser.");
  });

  restore();
  one("#marker").value = kept.marker;
  list();
  if (Object.keys(kept.answers).length) say("What was marked here before is back.");
})();
