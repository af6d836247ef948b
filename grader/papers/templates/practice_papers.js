// Practice papers: one paper of all exercises at a time, and a tally of the first tries. Nothing is kept or sent.
"use strict";

(() => {
  const sections = [...document.querySelectorAll("[data-practice]")];
  const data = new Map(sections.map((one) => [one, JSON.parse(one.querySelector("script[data-variants]").textContent)]));
  const [paper, units, tally] = ["papers", "units", "tally"].map((name) => document.querySelector(`[data-${name}]`));
  const heading = document.querySelector("[data-title]");
  // Marks at first try, by paper and then by item.
  const tries = new Map();

  const at = () => Number(paper.value);
  const firstTries = () => {
    const name = `${units.value} ${at()}`;
    if (!tries.has(name)) tries.set(name, new Map());
    return tries.get(name);
  };
  const partsOf = (section) => data.get(section).systems[units.value][at()].parts;
  const sum = (numbers) => numbers.reduce((total, one) => total + one, 0);
  const marks = (count) => `${count} ${count === 1 ? "mark" : "marks"}`;

  // What a page asks of a part: a part of one answer carries the part's marks, a table those of each cell.
  function worth(part, item) {
    const whole = part.items.length === 1;
    const right = whole ? part.marks : item.marks;
    const less = (earned) => (whole ? right - (item.marks - earned) : earned);
    return { right, followed: less(item.followed), forMethod: less(item.for_method) };
  }

  function earned(part, item, verdict, { broken, rests }) {
    const { right, followed, forMethod } = worth(part, item);
    if (verdict === "right") return right;
    if (verdict === "follows") return rests ? forMethod : followed;
    // Steps out of order lose their share of the marks, as in a paper.
    if (item.kind === "order") return Math.max(0, right - Math.ceil((2 * right * broken) / item.rules.length) / 2);
    return 0;
  }

  function count() {
    const parts = sections.flatMap((section) => partsOf(section).map((part) => [section, part]));
    const asked = parts.flatMap(([section, part]) => part.items.map((item) => [`${section.id} ${item.id}`, worth(part, item).right]));
    const words = sum(parts.filter(([, part]) => part.items.length === 0).map(([, part]) => part.marks));
    const got = firstTries();
    const answered = asked.filter(([name]) => got.has(name));
    const all = sum(asked.map(([, right]) => right));
    const own = words ? ` Answers in words (${marks(words)}) are for you to compare.` : "";
    const done = answered.length === asked.length ? "All answered" : `${answered.length} of ${asked.length} answers checked`;
    tally.textContent = `At first try: ${sum([...got.values()])} of ${marks(all)}. ${done}.${own}`;
  }

  function show() {
    heading.textContent = `Practice paper ${at() + 1} of ${paper.options.length}`;
    for (const section of sections) {
      section.dispatchEvent(new CustomEvent("pitside:show", { detail: { system: units.value, index: at() } }));
    }
    count();
    reachable();
  }

  // What is wider than the screen is scrolled with the arrow keys as well.
  function reachable() {
    for (const box of document.querySelectorAll(".practice-setting, .table-scroll")) {
      if (box.scrollWidth > box.clientWidth) box.tabIndex = 0;
      else box.removeAttribute("tabindex");
    }
  }

  addEventListener("resize", reachable);
  for (const section of sections) {
    section.addEventListener("pitside:checked", ({ detail }) => {
      const got = firstTries();
      for (const [id, verdict, about] of detail ?? []) {
        const name = `${section.id} ${id}`;
        if (verdict === "unread" || got.has(name)) continue;
        const part = partsOf(section).find((one) => one.items.some((item) => item.id === id));
        got.set(name, earned(part, part.items.find((item) => item.id === id), verdict, about ?? {}));
      }
      count();
    });
  }

  paper.addEventListener("change", show);
  units.addEventListener("change", show);
  document.querySelector("[data-next]").addEventListener("click", () => {
    paper.value = String((at() + 1) % paper.options.length);
    show();
    document.getElementById("questions").focus();
  });
  document.querySelector("[data-anew]").addEventListener("click", () => {
    firstTries().clear();
    show();
  });
  // The units that the widget remembers from the book are the first to be shown.
  units.value = sections[0].querySelector('.practice-units input:checked').value;
  document.querySelector("[data-bar]").hidden = false;
  show();
})();
