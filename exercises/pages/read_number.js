// What can be said of a typed number without knowing the answer: what number it is, and whether its size can be at all.
"use strict";

// The warning for a value in base units that nothing of its kind has; empty where it can be. The bounds stand in the
// page's data and are shown nowhere.
function cannotBe(possible, value) {
  if (!possible) return "";
  const { least, most } = possible;
  const hair = 1e-9 * Math.max(Math.abs(least ?? 0), Math.abs(most ?? 0));
  return (least !== null && value < least - hair) || (most !== null && value > most + hair) ? possible.says : "";
}

// The offered unit that a text names: as it is offered, or by another spelling of it or of its words; else "".
// ``units`` are the offered units' texts, ``spellings`` the offered text by other spellings.
function readUnit(text, units, spellings) {
  const plain = text.normalize("NFKC").replaceAll("²", "2").replaceAll("³", "3").replaceAll("·", "*").trim().replace(/\s+/g, " ");
  const known = (word) => {
    for (const form of [word, word.toLowerCase()]) {
      if (units.includes(form)) return form;
      if (Object.hasOwn(spellings, form)) return spellings[form];
    }
    return "";
  };
  const words = new Set(units.flatMap((unit) => unit.split("/")));
  const oneWord = (word) => {
    const power = /^(.*[^\d])([23])$/.exec(word);
    const base = power ? power[1].replace(/\^$/, "") : word;
    const found = known(base) || (words.has(base) ? base : "");
    return found && power ? found + power[2] : found;
  };
  const whole = known(plain);
  if (whole) return whole;
  const joined = plain.replace(/ per /g, "/").split("/").map((word) => oneWord(word.trim()) || "?").join("/");
  return units.includes(joined) ? joined : known(joined);
}

// A number with a unit behind it that is offered, as in "10.5 ppg": {value, unit, number: its text}; else as readNumber.
function readAnswer(typed, units, spellings) {
  const alone = readNumber(typed);
  if (!alone.problem) return alone;
  for (const { index } of typed.matchAll(/(?<=[\d.,])\s*(?=[^\d\s.,])/g)) {
    const number = typed.slice(0, index).trim();
    const unit = readUnit(typed.slice(index), units, spellings);
    if (!unit || number === "") continue;
    const read = readNumber(number);
    return read.problem ? read : { value: read.value, unit, number };
  }
  return alone;
}

// The value of a simple fraction, alone or behind a whole number (3/4, 12 1/2); null where the text is none.
function readFraction(text) {
  const found = /^([+-]?)(?:([0-9]{1,4})\s+)?([0-9]{1,4})\s*\/\s*([0-9]{1,4})$/.exec(text);
  if (found === null) return null;
  const [, sign, whole, above, below] = found;
  if (Number(below) === 0 || (whole !== undefined && Number(above) >= Number(below))) return null;
  const value = Number(whole ?? 0) + Number(above) / Number(below);
  return sign === "-" ? -value : value;
}

// The number in a text with decimal point or comma and digit groups, or a simple fraction; a problem where it is none or
// could be two. exercises/model/answers.py reads the same.

function readNumber(typed) {
  const normal = typed.normalize("NFKC").replaceAll("\u2212", "-");
  const text = normal.replace(/[\s'_]/gu, "");
  if (/\p{No}/u.test(typed)) return { problem: "Write the number plainly, without raised, lowered or fraction signs." };
  const fraction = readFraction(normal.trim());
  if (fraction !== null) return { value: fraction };
  if (text === "") return { problem: "Type a number first." };
  if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(text)) {
    const [large, small] = [text.replace(",", ""), text.replace(",", ".")];
    return { problem: `“${typed.trim()}” can be read in two ways: write ${large} or ${small}.` };
  }
  let plain = text;
  if (text.includes(",") && text.includes(".")) {
    plain = text.replaceAll(text.lastIndexOf(".") > text.lastIndexOf(",") ? "," : ".", "");
  } else if (text.split(",").length > 2) {
    plain = text.replaceAll(",", "");
  }
  plain = plain.replace(",", ".");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d{1,3})?$/i.test(plain) || !Number.isFinite(Number(plain))) {
    return { problem: `“${typed.trim().slice(0, 40)}” is not a number. Type the number alone; the unit is picked beside it.` };
  }
  return { value: Number(plain) };
}
