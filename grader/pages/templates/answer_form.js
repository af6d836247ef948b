// What the pages that take answers share: unit pickers, and what is wrong with the form of an answer; never whether it is right.
"use strict";

function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) node.setAttribute(name, "");
    else if (value !== undefined && value !== false) node.setAttribute(name, value);
  }
  node.append(...children);
  return node;
}

// For these kinds of quantity: ``unitPicker`` and ``lookAtNumber``.
function answerForm(kinds) {
  const unitsByText = new Map();
  for (const kind of kinds) for (const unit of kind.units) unitsByText.set(unit.text, { ...unit, kind });

  // The units to pick from: those that fit the question first, then those of every other kind. A question that asks to
  // convert takes its own unit alone.
  function unitPicker(id, { measures, unit: asked, converting }, label) {
    const select = element("select", { id, "aria-label": label });
    if (converting) {
      select.append(element("option", { value: asked }, unitsByText.get(asked).label));
      return select;
    }
    select.append(element("option", { value: "" }, "unit …"));
    const sorted = [...kinds].sort((a, b) => (b.name === measures) - (a.name === measures));
    for (const kind of sorted) {
      const group = element("optgroup", { label: kind.name });
      for (const unit of kind.units) group.append(element("option", { value: unit.text }, unit.label));
      select.append(group);
    }
    return select;
  }

  // What is wrong with the form of a number and its unit; never whether it is right.
  function lookAtNumber(item, typed, unit) {
    if (typed.trim() === "") return { state: "empty", says: "" };
    const read = readNumber(typed);
    if (read.problem) return { state: "look", says: read.problem };
    if (unit === "") return { state: "look", says: "Pick a unit." };
    const picked = unitsByText.get(unit);
    if (picked.kind.name !== item.measures) {
      return { state: "look", says: `${picked.label} measures ${picked.kind.name}; the question asks for ${item.measures}.` };
    }
    const warning = cannotBe(item.possible, read.value * picked.factor);
    if (warning) return { state: "look", says: warning };
    const size = Math.abs(read.value * picked.factor);
    if (size !== 0 && (size < picked.kind.least || size > picked.kind.largest)) {
      const way = size < picked.kind.least ? "small" : "large";
      return { state: "look", says: `That is a very ${way} value for ${picked.kind.name}. Look at the unit and the decimal point.` };
    }
    return { state: "fine", says: `Kept: ${read.value} ${picked.text === "fraction" ? "" : picked.label}`.trim() };
  }

  return { unitPicker, lookAtNumber };
}
