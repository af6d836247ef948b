"use strict";
// Printed on both sides, each candidate's sheet is to begin on a front, so that no two share a leaf. Few browsers see
// to that by themselves (CSS: break-before: right), so a blank side is put behind each sheet of an odd number of sides.

// How many sides a sheet fills. It is laid out in columns of a side's size, a little shorter than one, since letters are
// set a hair otherwise on paper; where a column begins, the side is made to begin, so that the printer agrees.
const UNITS = ".opening, .setting, .part";

function sidesOf(sheet) {
  const measure = document.createElement("div");
  measure.className = "measure";
  measure.setAttribute("aria-hidden", "true");
  measure.append(...sheet.cloneNode(true).childNodes);
  document.body.append(measure);
  const left = measure.getBoundingClientRect().left;
  const columnOf = (rect) => Math.round((rect.left - left) / measure.clientWidth - 0.25);
  const own = sheet.querySelectorAll(UNITS);
  let column = 0;
  measure.querySelectorAll(UNITS).forEach((unit, at) => {
    const begins = columnOf(unit.getClientRects()[0]);
    own[at].classList.toggle("next-side", begins > column);
    column = Math.max(column, begins);
  });
  const sides = Math.round(measure.scrollWidth / measure.clientWidth);
  measure.remove();
  return sides;
}

function putBlanks(bothSides) {
  for (const blank of document.querySelectorAll(".blank")) blank.remove();
  let sides = 0;
  for (const sheet of document.querySelectorAll(".whose")) {
    const own = Number(sheet.dataset.sides) || sidesOf(sheet);
    sheet.dataset.sides = own;
    sides += own;
    if (bothSides && own % 2) {
      const blank = document.createElement("p");
      blank.className = "blank";
      blank.textContent = "This side stays blank.";
      sheet.append(blank);
      sides += 1;
    }
  }
  const leaves = bothSides ? sides / 2 : sides;
  document.getElementById("leaves").textContent = `${leaves} ${leaves === 1 ? "leaf" : "leaves"} of A4`;
}

addEventListener("load", () => {
  const bothSides = document.getElementById("both-sides");
  document.getElementById("printing").hidden = false;
  bothSides.addEventListener("change", () => putBlanks(bothSides.checked));
  putBlanks(bothSides.checked);
});
