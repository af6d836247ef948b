// The number in a text with decimal point or comma and digit groups; a problem where it is none or could be two.
"use strict";

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
