// What the page's frame does: the dark and light button, and keyboard access to whatever scrolls sideways.
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
