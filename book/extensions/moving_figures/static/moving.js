// Figures whose lines move with their controls: the build has worked out every position, the script puts it in.
"use strict";

(() => {
  const PAUSE = 400; // ms without a further move, after which the result is read out

  function move(figure, data, inputs) {
    const at = inputs.map((input) => Number(input.value));
    const setting = at.reduce((whole, index, control) => whole * data.positions[control].length + index, 0);
    inputs.forEach((input, control) => {
      const text = data.positions[control][at[control]];
      input.setAttribute("aria-valuetext", text);
      input.parentElement.querySelector("[data-value]").textContent = text;
    });
    for (const [name, line] of Object.entries(data.lines)) {
      figure.querySelector(`[data-line="${name}"]`).setAttribute("d", data.paths[line[setting]]);
    }
    const labels = inputs.map((input) => input.labels[0].textContent);
    const set = labels.map((label, control) => `${label}: ${data.positions[control][at[control]]}`).join("; ");
    figure.querySelector("[data-at]").textContent = set;
    const rows = [...figure.querySelectorAll("[data-readout]")];
    rows.forEach((row, index) => {
      const texts = data.readouts[setting][index];
      const cells = texts.map((text) => {
        const cell = document.createElement("td");
        cell.textContent = text;
        if (texts.length === 1) cell.colSpan = 2;
        return cell;
      });
      row.replaceChildren(row.firstElementChild, ...cells);
    });
    const said = (index) => `${rows[index].firstElementChild.textContent}: ${data.readouts[setting][index].join(", ")}`;
    return data.said.map(said).join("; ");
  }

  for (const figure of document.querySelectorAll("[data-moving]")) {
    const data = JSON.parse(figure.querySelector("script[data-settings]").textContent);
    const inputs = [...figure.querySelectorAll("input[type=range]")];
    const status = figure.querySelector("[data-said]");
    let waiting;
    for (const input of inputs) {
      input.addEventListener("input", () => {
        const result = move(figure, data, inputs);
        clearTimeout(waiting);
        waiting = setTimeout(() => {
          status.textContent = result;
        }, PAUSE);
      });
    }
    figure.querySelector("[data-controls]").hidden = false;
  }
})();
