// What the page's frame does: the buttons for dark pages and for code, the list of headings where there is little room,
// and keyboard access to whatever scrolls sideways.
"use strict";

const colourButton = document.querySelector("[data-colours]");
const darkSystem = matchMedia("(prefers-color-scheme: dark)");

function isDark() {
  const chosen = document.documentElement.dataset.theme;
  return chosen ? chosen === "dark" : darkSystem.matches;
}

function nameColourButton() {
  colourButton.textContent = isDark() ? "Light page" : "Dark page";
}

colourButton.hidden = false;
nameColourButton();
darkSystem.addEventListener("change", nameColourButton);
colourButton.addEventListener("click", () => {
  const chosen = isDark() ? "light" : "dark";
  document.documentElement.dataset.theme = chosen;
  try {
    localStorage.setItem("pitside-colours", chosen);
  } catch {
    // the choice then lasts for this page only
  }
  nameColourButton();
});

// One switch for all code of the book, which is folded else.
const codeButton = document.querySelector("[data-code]");
const codes = [...document.querySelectorAll("details.hide:has(.cell_input)")];

function showCode(shown) {
  for (const code of codes) code.open = shown;
  codeButton.textContent = shown ? "Hide code" : "Show code";
}

if (codes.length) {
  codeButton.hidden = false;
  let shown = false;
  try {
    shown = localStorage.getItem("pitside-code") === "shown";
  } catch {
    // storage is switched off: code is folded at first
  }
  showCode(shown);
  codeButton.addEventListener("click", () => {
    shown = !shown;
    showCode(shown);
    try {
      localStorage.setItem("pitside-code", shown ? "shown" : "folded");
    } catch {
      // the choice then lasts for this page only
    }
  });
}

// Beside the text the headings are always there; above it they are folded, and fold again when one is taken.
const headings = document.querySelector("[data-headings]");
if (headings) {
  const narrow = matchMedia("(max-width: 80rem)");
  const fold = () => (headings.open = !narrow.matches);
  fold();
  narrow.addEventListener("change", fold);
  headings.addEventListener("click", (event) => event.target.closest("a") && fold());
}

function letScrollersTakeFocus() {
  for (const box of document.querySelectorAll("div.math, pre, .table-scroll, .practice-setting")) {
    if (box.scrollWidth > box.clientWidth + 1) {
      box.tabIndex = 0;
      box.setAttribute("role", "group");
      box.setAttribute("aria-label", box.matches("pre") ? "Code, scrolls sideways" : "Scrolls sideways");
    } else {
      box.removeAttribute("tabindex");
    }
  }
}

addEventListener("load", () => {
  const drawn = window.MathJax?.startup?.promise ?? Promise.resolve();
  drawn.then(letScrollersTakeFocus);
});
addEventListener("resize", letScrollersTakeFocus);
document.addEventListener("toggle", letScrollersTakeFocus, true); // what was folded has a width only once it is open
document.addEventListener("pitside:shown", letScrollersTakeFocus); // the practice has put in other numbers
