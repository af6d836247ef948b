// Runs before the page is painted, so that a reader's choice of a dark or light page does not flash.
"use strict";
try {
  const chosen = localStorage.getItem("pitside-colours");
  if (chosen === "dark" || chosen === "light") document.documentElement.dataset.theme = chosen;
} catch {
  // storage is switched off: the page follows the system's colours
}
