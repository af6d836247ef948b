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
  // What a sitting would be, as it is ticked; the desk works it out.
  const weigh = document.querySelector("[data-weigh]");
  if (weigh) {
    const form = weigh.closest("form");
    let latest = 0;
    form.addEventListener("change", async (event) => {
      if (event.target.name !== "exercise") return;
      const mine = (latest += 1);
      const asked = new URLSearchParams();
      for (const name of ["sitting", "kind", "exercise"]) {
        for (const value of new FormData(form).getAll(name)) asked.append(name, value);
      }
      const told = await (await fetch(`${weigh.dataset.weigh}?${asked}`)).json();
      if (mine !== latest) return;
      weigh.querySelector("[data-line]").textContent = told.line;
      weigh.querySelector("[data-count]").textContent = told.says;
      weigh.querySelector("[data-left-out]").replaceChildren(
        ...told.left_out.map((line) => Object.assign(document.createElement("li"), { textContent: line })),
      );
    });
  }
  // Who handed in, as files come.
  const live = [...document.querySelectorAll("[data-live]")];
  if (live.length) {
    setInterval(async () => {
      if (document.hidden) return;
      try {
        const text = await (await fetch(location.pathname)).text();
        const now = new DOMParser().parseFromString(text, "text/html");
        for (const place of document.querySelectorAll("[data-live]")) {
          const fresh = now.querySelector(`[data-live="${place.dataset.live}"]`);
          if (fresh && fresh.textContent !== place.textContent) place.replaceWith(fresh);
        }
      } catch {
        // The desk was closed; the page stays as it is.
      }
    }, 8000);
  }
  // What takes longer than a second is seen to be at work.
  const wait = document.querySelector("[data-wait]");
  let timer = 0;
  const begin = () => {
    clearTimeout(timer);
    timer = setTimeout(() => (wait.hidden = false), 1000);
  };
  if (wait) {
    for (const link of document.querySelectorAll("a[href]:not([target]):not([href*='/file/'])")) link.addEventListener("click", begin);
    for (const form of document.forms) form.addEventListener("submit", begin);
    addEventListener("pageshow", () => {
      clearTimeout(timer);
      wait.hidden = true;
    });
  }
  // A button pressed twice begins one piece of work.
  for (const form of document.forms) {
    form.addEventListener("submit", () => setTimeout(() => form.querySelectorAll("button").forEach((one) => (one.disabled = true))));
  }
}
