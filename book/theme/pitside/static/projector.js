// Shows a lesson on a projector (?projector in the address), and what the speaker says in a window beside it (?notes).
// The number of the screen stands after the #. Between the two windows nothing passes but that number.
"use strict";

(() => {
  const asked = new URLSearchParams(location.search);
  const view = ["projector", "notes"].find((name) => asked.has(name));
  if (!view) return;
  const root = document.documentElement;
  root.classList.add("on-projector", `view-${view}`);
  root.dataset.theme = "light"; // a bright room wants dark letters on a light ground; the bar has a button for the other
  const PING = 2000; // ms between two signs of life of the window of notes
  const BAR_STAYS = 3000; // ms that the bar stays after the mouse has moved

  // A question is shown as it stands on paper: before the script of the practice finds it, it is made plain.
  document.addEventListener("readystatechange", () => {
    for (const one of document.querySelectorAll("[data-practice]")) one.removeAttribute("data-practice");
  }, { once: true });

  function plain(lesson) {
    for (const one of lesson.querySelectorAll(".footnote-reference, .headerlink")) {
      const before = one.previousSibling;
      if (before?.nodeType === Node.TEXT_NODE) before.data = before.data.trimEnd();
      one.remove();
    }
    for (const link of lesson.querySelectorAll("a")) link.replaceWith(...link.childNodes);
    lesson.normalize();
  }

  const button = (text, does) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.addEventListener("click", does);
    return made;
  };

  function begin() {
    const lesson = document.querySelector("main.lesson");
    plain(lesson);
    const screens = makeScreens(lesson);
    const place = location.pathname;
    let at = -1;
    let typed = "";

    const all = document.createElement("main");
    all.className = "screens";
    all.id = "lesson";
    const status = document.createElement("p");
    status.className = "projector-status";
    status.setAttribute("role", "status");
    const frames = screens.map((one, number) => {
      const frame = document.createElement("article");
      frame.className = "frame-of-one";
      frame.tabIndex = -1;
      frame.dataset.screen = number + 1;
      frame.setAttribute("aria-label", `Screen ${number + 1} of ${screens.length}`);
      const told = document.createElement("div");
      told.className = "told";
      told.append(...one.notes.map((note) => note.cloneNode(true)));
      const before = screens[number - 1];
      const same = (note, place) => note.isEqualNode(before.notes[place]);
      one.notesFrom = number + 1;
      if (before?.notes.length === one.notes.length && one.notes.every(same)) {
        one.notesFrom = before.notesFrom;
        told.dataset.same = `Notes as for screen ${one.notesFrom}.`; // on paper they stand there once
      }
      const where = document.createElement("p");
      where.className = "place";
      where.textContent = `${number + 1} / ${screens.length}`;
      if (view === "notes") {
        const heading = document.createElement("h2");
        heading.textContent = one.title;
        const picture = document.createElement("div");
        picture.className = "thumb";
        picture.inert = true;
        picture.setAttribute("aria-hidden", "true");
        picture.append(one.element);
        const next = document.createElement("p");
        next.className = "comes";
        next.textContent = screens[number + 1] ? `Next: ${screens[number + 1].title}` : "This is the last screen.";
        frame.append(where, heading, picture, told, next);
      } else {
        frame.append(one.element, where);
      }
      return frame;
    });
    all.append(...frames);

    // Between the windows ------------------------------------------------------------------------------------------

    const partners = new Set(window.opener ? [window.opener] : []);
    let channel = null;
    try {
      channel = new BroadcastChannel("pitside-projector");
    } catch {
      // a window that was opened by hand is then turned by hand
    }
    const say = (what, to) => {
      const message = { pitside: what, place, at };
      if (to) to.postMessage(message, "*");
      else {
        for (const window of partners) window.postMessage(message, "*");
        channel?.postMessage(message);
      }
    };

    function heard({ data, source }) {
      if (!data || typeof data !== "object" || data.place !== place) return;
      if (source && source !== window) partners.add(source);
      if (data.pitside === "there?" && view === "projector") {
        if (source) say("screen", source);
        else say("screen");
      }
      if (data.pitside === "screen" && Number.isInteger(data.at)) {
        joined();
        show(data.at, true);
      }
    }
    addEventListener("message", heard);
    channel?.addEventListener("message", heard);

    let lastHeard = -Infinity;
    function joined() {
      lastHeard = performance.now();
      link.textContent = "Follows the projector";
    }
    const link = document.createElement("span");
    link.className = "joined";

    // The bar --------------------------------------------------------------------------------------------------------

    const bar = document.createElement("nav");
    bar.className = "projector-bar";
    bar.setAttribute("aria-label", "Screens");
    const number = document.createElement("input");
    number.type = "number";
    number.min = 1;
    number.max = screens.length;
    number.setAttribute("aria-label", "Number of the screen");
    number.addEventListener("change", () => show(Number(number.value) - 1));
    const of = document.createElement("span");
    of.textContent = `of ${screens.length}`;
    const back = document.createElement("a");
    back.href = place;
    back.textContent = "Lesson";
    bar.append(button("Back", () => show(at - 1)), button("On", () => show(at + 1)), number, of);
    if (view === "projector") {
      bar.append(button("Notes", openNotes));
      if (document.fullscreenEnabled) bar.append(button("Full screen", fullScreen));
      bar.append(button("Dark", darken), back);
    } else {
      bar.append(link, button("Print", () => print()));
    }

    function openNotes() {
      const opened = window.open(`${place}?notes#${at + 1}`, "pitside-notes", "popup,width=900,height=700");
      if (opened) {
        partners.add(opened);
        tell("");
        return;
      }
      const address = document.createElement("a");
      address.href = `?notes#${at + 1}`;
      address.target = "_blank";
      address.rel = "opener";
      address.textContent = "open the notes here";
      status.replaceChildren("The browser did not let a second window open. Allow windows for this page, or ", address, ".");
    }

    function fullScreen() {
      if (document.fullscreenElement) document.exitFullscreen();
      else root.requestFullscreen().catch(() => tell("The browser does not allow full screen here. Try the F11 key."));
    }

    function darken(event) {
      const dark = root.dataset.theme === "light";
      root.dataset.theme = dark ? "dark" : "light";
      event.currentTarget.textContent = dark ? "Light" : "Dark";
    }

    const tell = (text) => (status.textContent = text);

    let hiding;
    function showBar() {
      bar.dataset.shown = "";
      clearTimeout(hiding);
      hiding = setTimeout(() => delete bar.dataset.shown, BAR_STAYS);
    }
    if (view === "projector") {
      addEventListener("pointermove", showBar);
      addEventListener("pointerdown", showBar);
    }

    // Turning ----------------------------------------------------------------------------------------------------------

    function show(wanted, quietly = false) {
      const to = Math.max(0, Math.min(screens.length - 1, wanted || 0));
      if (to === at) return;
      frames[at]?.removeAttribute("data-now");
      at = to;
      frames[at].dataset.now = "";
      number.value = at + 1;
      tell("");
      if (!bar.contains(document.activeElement)) frames[at].focus({ preventScroll: true });
      scrollTo(0, 0);
      document.dispatchEvent(new Event("pitside:shown")); // a wide formula of the notes scrolls, so keys must reach it
      try {
        history.replaceState(null, "", `${location.search}#${at + 1}`);
      } catch {
        // some browsers do not let a page from the disk change its address
      }
      if (!quietly) say("screen");
    }

    const ON = ["ArrowRight", "ArrowDown", "PageDown", " ", "Enter"];
    const BACK = ["ArrowLeft", "ArrowUp", "PageUp", "Backspace"];

    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
      const in_ = event.target.closest?.("input, select, textarea, button, a, summary");
      const page = event.key.startsWith("Page"); // what presenters send turns the screen wherever the focus is
      if (in_ && !page) {
        if (event.key === "Escape") in_.blur();
        return;
      }
      if (/^[0-9]$/.test(event.key) && typed.length < 3) {
        typed += event.key;
        tell(`Screen ${typed}: Enter goes there`);
      } else if (event.key === "Enter" && typed) {
        const to = Number(typed) - 1;
        typed = "";
        show(to);
        tell("");
      } else if (event.key === "Escape") {
        typed = "";
        tell("");
      } else if (event.key === " " && event.shiftKey) show(at - 1);
      else if (ON.includes(event.key)) show(at + 1);
      else if (BACK.includes(event.key)) {
        if (event.key === "Backspace" && typed) {
          typed = typed.slice(0, -1);
          tell(typed ? `Screen ${typed}: Enter goes there` : "");
        } else show(at - 1);
      } else if (event.key === "Home") show(0);
      else if (event.key === "End") show(screens.length - 1);
      else return;
      event.preventDefault();
    });
    addEventListener("hashchange", () => show(Number(location.hash.slice(1)) - 1));

    document.title = `${screens[0].title}: ${view === "notes" ? "notes for the speaker" : "on the projector"}`;
    document.body.replaceChildren(...(view === "notes" ? [bar, status, all] : [all, bar, status]));
    show(Number(location.hash.slice(1)) - 1 || 0, true);
    if (view === "notes") {
      const ping = () => {
        say("there?");
        if (performance.now() - lastHeard > 2 * PING) link.textContent = "Turned by hand: no projector window answers";
      };
      setInterval(ping, PING);
      ping();
    } else {
      showBar();
      say("screen");
    }
    root.dataset.screens = screens.length;
  }

  addEventListener("load", async () => {
    await window.MathJax?.startup?.promise;
    await document.fonts.ready;
    begin();
  });
})();
