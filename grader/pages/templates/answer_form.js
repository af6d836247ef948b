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

// For these kinds of quantity and spellings of their units: the boxes of a number, filled and looked at.
function answerForm(kinds, spellings) {
  const unitsByText = new Map();
  for (const kind of kinds) for (const unit of kind.units) unitsByText.set(unit.text, { ...unit, kind });

  const texts = [...unitsByText.keys()];

  // The units to pick from: those that fit the question first, then those of everyday kinds. A question that asks to
  // convert takes its own unit alone.
  function unitPicker(id, { measures, unit: asked, converting }, label) {
    const select = element("select", { id, "aria-label": label });
    if (converting) {
      select.append(element("option", { value: asked }, unitsByText.get(asked).label));
      return select;
    }
    select.append(element("option", { value: "" }, "unit …"));
    const offered = kinds.filter((kind) => kind.name === measures || kind.everyday);
    const sorted = offered.sort((a, b) => (b.name === measures) - (a.name === measures));
    for (const kind of sorted) {
      const group = element("optgroup", { label: kind.name });
      for (const unit of kind.units) group.append(element("option", { value: unit.text }, unit.label));
      select.append(group);
    }
    return select;
  }

  // What stands in the boxes of a number: {typed, unit}. A unit that was typed behind the number is its unit.
  function valueOf(input, select) {
    const { unit, number } = readAnswer(input.value, texts, spellings);
    return unit ? { typed: number, unit } : { typed: input.value, unit: select.value };
  }

  // A value back into the boxes; a unit that is not offered there stands behind the number.
  function putInto(input, select, { typed, unit }) {
    select.value = unit;
    const offered = [...select.options].some((option) => option.value === unit);
    if (!offered) select.selectedIndex = 0;
    input.value = offered || !typed.trim() ? typed : `${typed} ${unitsByText.get(unit)?.text ?? ""}`.trim();
  }

  // A unit that was typed behind the number goes where units are picked, once the typing is done.
  function settle(input, select) {
    if (!readAnswer(input.value, texts, spellings).unit) return;
    const before = select.value;
    putInto(input, select, valueOf(input, select));
    if (select.value !== before) select.dispatchEvent(new Event("change", { bubbles: true }));
  }

  // A number as it was typed where that is plain, so that 13.0 stays 13.0; else as it was read.
  const echo = (text, value) => (/^[+-]?\d+(\.\d+)?$/.test(text.trim()) ? text.trim() : String(value));

  // What is wrong with the form of a number and its unit; never whether it is right.
  function lookAtNumber(item, typed, chosen) {
    if (typed.trim() === "") return { state: "empty", says: "" };
    const read = readAnswer(typed, texts, spellings);
    if (read.problem) return { state: "look", says: read.problem };
    const unit = read.unit ?? chosen;
    if (item.converting && unit !== item.unit) {
      return { state: "look", says: `Answer in ${unitsByText.get(item.unit).label}: converting is asked here.` };
    }
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
    return { state: "fine", says: `Kept: ${echo(read.number ?? typed, read.value)} ${picked.text === "fraction" ? "" : picked.label}`.trim() };
  }

  return { unitPicker, valueOf, putInto, settle, lookAtNumber };
}
