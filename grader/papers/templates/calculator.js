// The desk calculator: sums with a memory, and conversion between the units of one kind.
"use strict";

// The value of a sum such as 0.052 * 12.4 * (9800 + 20) ^ 2; throws an Error whose message a person can use.
function calculated(text, names) {
  const FUNCTIONS = { sqrt: Math.sqrt, ln: Math.log, log: Math.log10, exp: Math.exp, abs: Math.abs };
  // As the page prints them: raised figures are powers, blanks of any kind stand between groups of three digits.
  const powers = text.replace(/[⁰¹²³⁴-⁹]+/g, (raised) => `^${raised.normalize("NFKC")}`).normalize("NFKC");
  const signs = powers.replace(/[×·⋅∙]/g, "*").replace(/[÷:]/g, "/").replace(/[−–‐‑‒]/g, "-").replaceAll("**", "^");
  const plain = signs.replace(/(?<![\d.,])\d{1,3}(?:[\s'_]\d{3})+(?!\d)/g, (grouped) => grouped.replace(/[\s'_]/g, ""));
  const tokens = plain.match(/(?:\d[\d.,]*|[.,]\d+)(?:e[+-]?\d+)?|[a-z]+|[-+*/^()]|\S/gi) ?? [];
  let at = 0;
  const next = () => tokens[at];
  const take = () => tokens[at++];

  function sum() {
    let value = product();
    while (next() === "+" || next() === "-") value = take() === "+" ? value + product() : value - product();
    return value;
  }
  function product() {
    let value = signed();
    while (next() === "*" || next() === "/") value = take() === "*" ? value * signed() : value / signed();
    return value;
  }
  function signed() {
    if (next() === "-") return take() && -signed();
    if (next() === "+") return take() && signed();
    return power();
  }
  function power() {
    const base = single();
    return next() === "^" ? take() && base ** signed() : base;
  }
  function single() {
    const token = take();
    if (token === undefined) throw new Error("The sum ends too early.");
    if (token === "(") {
      const value = sum();
      if (take() !== ")") throw new Error("A bracket is not closed.");
      return value;
    }
    if (/^[\d.,]/.test(token)) {
      const read = readNumber(token);
      if (read.problem) throw new Error(read.problem);
      return read.value;
    }
    const name = token.toLowerCase();
    if (Object.hasOwn(FUNCTIONS, name)) {
      if (next() !== "(") throw new Error(`Put brackets behind ${name}: ${name}(2)`);
      return FUNCTIONS[name](single());
    }
    if (Object.hasOwn(names, name)) return names[name];
    throw new Error(`“${token}” is not known here.`);
  }

  if (tokens.length === 0) throw new Error("Type a sum first.");
  const value = sum();
  if (at < tokens.length) throw new Error(`“${next()}” is not expected there.`);
  if (!Number.isFinite(value)) throw new Error("That has no result: look for a division by nothing or a root of a negative.");
  return value;
}

(() => {
  const paper = JSON.parse(document.getElementById("paper").textContent);
  const one = (selector) => document.querySelector(selector);
  const dialog = one("[data-calculator]");
  const names = { pi: Math.PI, ans: 0, mem: 0 };
  const shown = (value) => String(Number(value.toPrecision(10)));

  let opener = one("[data-calculator-open]");
  for (const button of document.querySelectorAll("[data-calculator-open]")) {
    button.addEventListener("click", () => {
      opener = button;
      dialog.show();
      one("#sum").focus();
    });
  }
  dialog.addEventListener("keydown", (event) => {
    if (event.key === "Escape") dialog.close();
  });
  dialog.addEventListener("close", () => opener.focus());
  one("[data-sum]").addEventListener("submit", (event) => {
    event.preventDefault();
    const input = one("#sum");
    try {
      names.ans = calculated(input.value, names);
      one("[data-result]").textContent = `= ${shown(names.ans)}`;
      const line = document.createElement("li");
      line.textContent = `${input.value.trim()} = ${shown(names.ans)}`;
      one("[data-tape]").prepend(line);
      input.select();
    } catch (error) {
      one("[data-result]").textContent = error.message;
    }
  });
  for (const button of document.querySelectorAll("[data-memory]")) {
    button.addEventListener("click", () => {
      names.mem = button.dataset.memory === "store" ? names.ans : 0;
      one("[data-memory-shown]").textContent = `Memory: ${shown(names.mem)}`;
    });
  }

  const [from, to] = [one("#convert-from"), one("#convert-to")];
  const byText = new Map();
  // What the paper asks to convert is not converted here.
  const asked = new Set(Object.values(paper.items).filter((item) => item.converting).map((item) => item.measures));
  if (asked.size > 0) {
    const note = document.createElement("p");
    note.className = "quiet";
    note.textContent = `Not here: ${[...asked].join(", ")}. Converting it is asked in this paper.`;
    one("[data-convert]").append(note);
  }
  for (const kind of paper.kinds) {
    if (kind.units.length < 2 || asked.has(kind.name)) continue;
    const group = document.createElement("optgroup");
    group.label = kind.name;
    for (const unit of kind.units) {
      byText.set(unit.text, { ...unit, kind });
      group.append(new Option(unit.label, unit.text));
    }
    from.append(group);
  }
  function fitting() {
    const { kind } = byText.get(from.value);
    const before = to.value;
    to.replaceChildren(...kind.units.map((unit) => new Option(unit.label, unit.text)));
    to.value = kind.units.some((unit) => unit.text === before) ? before : kind.units.find((unit) => unit.text !== from.value).text;
  }
  function convert() {
    const out = one("[data-converted]");
    const typed = one("#convert-value").value;
    if (typed.trim() === "") {
      out.textContent = "";
      return;
    }
    const read = readNumber(typed);
    if (read.problem) {
      out.textContent = read.problem;
      return;
    }
    const [one_, other] = [byText.get(from.value), byText.get(to.value)];
    out.textContent = `= ${shown((read.value * one_.factor) / other.factor)} ${other.label}`;
  }
  from.addEventListener("change", () => {
    fitting();
    convert();
  });
  to.addEventListener("change", convert);
  one("#convert-value").addEventListener("input", convert);
  one("[data-convert]").addEventListener("submit", (event) => event.preventDefault());
  fitting();
})();
