"use strict";
// The desk works without this; with it, progress is shown as it goes on, and files can be dropped.
{
  const waiting = document.querySelector("[data-job]");
  if (waiting) {
    const bar = waiting.querySelector("progress");
    const far = waiting.querySelector("[data-far]");
    const look = async () => {
      try {
        const told = await (await fetch(`${waiting.dataset.job}/how-far`)).json();
        if (told.over) {
          location.replace(waiting.dataset.back);
          return;
        }
        if (told.total) {
          bar.max = told.total;
          bar.value = told.done;
          far.textContent = `At work: ${told.done} of ${told.total}`;
        }
      } catch {
        far.textContent = "The desk does not answer. If it was closed, start it again: nothing is lost.";
      }
      setTimeout(look, 600);
    };
    setTimeout(look, 300);
  }
  for (const place of document.querySelectorAll("[data-drop]")) {
    const input = place.querySelector("input[type=file]");
    const chosen = place.querySelector("[data-chosen]");
    const say = () => {
      const names = [...input.files].map((file) => file.name);
      chosen.textContent = names.length > 5 ? `${names.length} files chosen` : names.join(", ") || "nothing chosen";
    };
    input.addEventListener("change", say);
    place.addEventListener("dragover", (event) => {
      event.preventDefault();
      place.classList.add("over");
    });
    place.addEventListener("dragleave", () => place.classList.remove("over"));
    place.addEventListener("drop", (event) => {
      event.preventDefault();
      place.classList.remove("over");
      const kept = new DataTransfer();
      for (const file of event.dataTransfer.files) {
        if (input.multiple || !kept.items.length) kept.items.add(file);
      }
      input.files = kept.files;
      say();
    });
  }
  // A button pressed twice begins one piece of work.
  for (const form of document.forms) {
    form.addEventListener("submit", () => setTimeout(() => form.querySelectorAll("button").forEach((one) => (one.disabled = true))));
  }
}
