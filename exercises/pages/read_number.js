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

// The number in a text with decimal point or comma and digit groups; a problem where it is none or could be two.

function readNumber(typed) {
  const text = typed.normalize("NFKC").replace(/[\s'_]/gu, "").replace("\u2212", "-");
  if (/\p{No}/u.test(typed)) return { problem: "Write the number plainly, without raised, lowered or fraction signs." };
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
