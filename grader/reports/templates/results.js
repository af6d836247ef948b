// Sorts the results by a column, by its heading or, on a narrow screen, by the list above the table.
"use strict";

for (const table of document.querySelectorAll("table.results")) {
  const heads = [...table.tHead.rows[0].cells];
  const body = table.tBodies[0];
  const asWritten = [...body.rows];
  const by = table.closest("section").querySelector(".by");
  const select = by.querySelector("select");

  // Numbers by their value, what has none last; anything else by its letters.
  const keyOf = (row, at) => row.cells[at].dataset.sort ?? row.cells[at].textContent.trim();
  const isNumber = (at) => asWritten.some((row) => row.cells[at].dataset.sort !== undefined);

  function compare(one, other, at, down) {
    const keys = [one, other].map((row) => keyOf(row, at));
    if (!isNumber(at)) return (down ? -1 : 1) * keys[0].localeCompare(keys[1], undefined, { numeric: true });
    const [a, b] = keys.map(Number);
    if (Number.isNaN(a) || Number.isNaN(b)) return Number.isNaN(a) - Number.isNaN(b);
    return (down ? -1 : 1) * (a - b);
  }

  function sort(at, down) {
    for (const head of heads) head.removeAttribute("aria-sort");
    heads[at].setAttribute("aria-sort", down ? "descending" : "ascending");
    body.append(...[...asWritten].sort((one, other) => compare(one, other, at, down)));
    select.value = `${at} ${down}`;
  }

  heads.forEach((head, at) => {
    const button = head.querySelector("button");
    if (!button) return;
    for (const down of isNumber(at) ? [true, false] : [false]) {
      const option = document.createElement("option");
      option.value = `${at} ${down}`;
      option.textContent = button.textContent + (isNumber(at) ? (down ? ", highest first" : ", lowest first") : "");
      select.append(option);
    }
    // Marks are looked for from the top, names from A; once more turns it round.
    button.addEventListener("click", () => {
      const now = head.getAttribute("aria-sort");
      sort(at, now ? now === "ascending" : isNumber(at));
    });
  });
  select.addEventListener("change", () => {
    const [at, down] = select.value.split(" ");
    sort(Number(at), down === "true");
  });
  by.hidden = false;
}
