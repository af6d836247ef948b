// Looks through the book's text for the words that were asked for, and shows where they stand.
"use strict";

(() => {
  const { pages, same } = window.BOOK;
  const MOST_SECTIONS = 3;
  const AROUND = 90;

  // A text of the same length in small letters without accents, raised figures as plain ones, blanks of one kind.
  const plain = (text) => [...text].map((sign) => {
    const first = sign.normalize("NFKD")[0].toLowerCase();
    return first.length === sign.length ? first : sign;
  }).join("");

  const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

  // What a word stands for: itself, and what the trade says for the same. Short ones must be whole words.
  function wanted(word) {
    const others = same.filter((group) => group.some((one) => plain(one) === word)).flat().map(plain);
    const ways = [...new Set([word, ...others])];
    const patterns = ways.map((way) => `(?<![a-z0-9])${escaped(way)}${way.length < 4 ? "(?![a-z0-9])" : ""}`);
    return new RegExp(patterns.join("|"), "g");
  }

  // For each page its sections, each with what is looked through.
  const book = pages.map(([address, title, sections]) => ({
    address,
    title,
    titleText: plain(title),
    sections: sections.map(([anchor, heading, text]) => ({ anchor, heading, text, headingText: plain(heading), bodyText: plain(text) })),
  }));

  const holds = (pattern, text) => {
    pattern.lastIndex = 0;
    return pattern.test(text);
  };

  function scored(page, patterns) {
    const titleHits = patterns.map((pattern) => holds(pattern, page.titleText));
    const sections = page.sections
      .map((section) => {
        const heads = patterns.map((pattern) => holds(pattern, section.headingText));
        const bodies = patterns.map((pattern) => holds(pattern, section.bodyText));
        const hits = patterns.map((_, at) => heads[at] || bodies[at]);
        const all = hits.every((hit, at) => hit || titleHits[at]);
        const score = 5 * heads.filter(Boolean).length + 2 * bodies.filter(Boolean).length + (all ? 6 : 0);
        return { section, hits, score };
      })
      .filter(({ hits }) => hits.some(Boolean))
      .sort((a, b) => b.score - a.score);
    const found = patterns.map((_, at) => titleHits[at] || sections.some(({ hits }) => hits[at]));
    const score = 12 * titleHits.filter(Boolean).length + (sections[0]?.score ?? 0) + Math.min(sections.length, 5) * 0.5;
    return { page, sections, found, score };
  }

  // How many letters must be changed, put in, left out or turned to make one word the other; at most ``most``.
  function distance(one, other, most) {
    if (Math.abs(one.length - other.length) > most) return most + 1;
    let before = [];
    let last = Array.from({ length: other.length + 1 }, (_, at) => at);
    for (let i = 1; i <= one.length; i += 1) {
      const row = [i];
      for (let j = 1; j <= other.length; j += 1) {
        const change = one[i - 1] === other[j - 1] ? 0 : 1;
        row[j] = Math.min(row[j - 1] + 1, last[j] + 1, last[j - 1] + change);
        if (i > 1 && j > 1 && one[i - 1] === other[j - 2] && one[i - 2] === other[j - 1]) row[j] = Math.min(row[j], before[j - 2] + 1);
      }
      [before, last] = [last, row];
    }
    return last[other.length];
  }

  function nearest(word) {
    const counts = new Map();
    for (const { titleText, sections } of book) {
      for (const text of [titleText, ...sections.flatMap((section) => [section.headingText, section.bodyText])]) {
        for (const [known] of text.matchAll(/[a-z]{3,}/g)) counts.set(known, (counts.get(known) ?? 0) + 1);
      }
    }
    const most = word.length < 5 ? 1 : 2;
    let best = null;
    for (const [known, count] of counts) {
      const far = distance(word, known, most);
      if (far <= most && (best === null || far < best.far || (far === best.far && count > best.count))) best = { known, far, count };
    }
    return best?.known ?? "";
  }

  function marked(text, patterns) {
    const low = plain(text);
    const all = new RegExp(patterns.map((pattern) => pattern.source).join("|"), "g");
    const pieces = [];
    let at = 0;
    for (const found of low.matchAll(all)) {
      const mark = document.createElement("mark");
      mark.textContent = text.slice(found.index, found.index + found[0].length);
      pieces.push(text.slice(at, found.index), mark);
      at = found.index + found[0].length;
    }
    return [...pieces, text.slice(at)];
  }

  // A piece of a section around the first word that was found in it.
  function excerpt({ text, bodyText }, patterns) {
    const places = patterns.map((pattern) => {
      pattern.lastIndex = 0;
      return pattern.exec(bodyText)?.index ?? -1;
    }).filter((place) => place >= 0);
    const middle = places.length ? Math.min(...places) : 0;
    let start = Math.max(0, middle - AROUND);
    let end = Math.min(text.length, middle + 2 * AROUND);
    if (start > 0) start = text.indexOf(" ", start) + 1 || start;
    if (end < text.length) end = text.lastIndexOf(" ", end);
    return [start > 0 ? "… " : "", ...marked(text.slice(start, end), patterns), end < text.length ? " …" : ""];
  }

  function link(address, text) {
    const made = document.createElement("a");
    made.href = address;
    made.textContent = text;
    return made;
  }

  const asked = (new URLSearchParams(location.search).get("q") ?? "").trim().slice(0, 200);
  document.querySelector("#find").value = asked;
  const words = [...new Set(plain(asked).split(/[\s,;?!"“”()]+/).filter(Boolean))].slice(0, 12);
  const says = document.querySelector("[data-search-says]");
  if (words.length === 0) {
    if (asked) says.textContent = "There is no word in that: type one to look for.";
    return;
  }
  document.title = `${asked} · ${document.title}`;
  const patterns = words.map(wanted);
  const looked = book.map((page) => scored(page, patterns)).filter(({ found }) => found.some(Boolean));
  const whole = looked.filter(({ found }) => found.every(Boolean));
  const shown = (whole.length ? whole : looked).sort((a, b) => b.found.filter(Boolean).length - a.found.filter(Boolean).length || b.score - a.score);

  const unknown = words.filter((_, at) => !looked.some(({ found }) => found[at]));
  if (whole.length) {
    says.textContent = `${whole.length} ${whole.length === 1 ? "page holds" : "pages hold"} ${words.length === 1 ? "it" : "these words"}.`;
  } else if (shown.length && unknown.length === 0) {
    says.textContent = "No page holds all of these words. These hold some of them:";
  } else {
    says.textContent = `The book has no word such as ${unknown.map((word) => `“${word}”`).join(" or ")}. `;
    const near = unknown.map(nearest);
    if (near.every(Boolean)) {
      const better = words.map((word) => near[unknown.indexOf(word)] ?? word).join(" ");
      says.append("Did you mean ", link(`?q=${encodeURIComponent(better)}`, better), "?");
    } else {
      says.append(shown.length ? "These pages hold the other words:" : "Try another word for it, or look at the list of lessons.");
    }
  }

  const list = document.createElement("ul");
  list.className = "found";
  for (const { page, sections } of shown) {
    const item = document.createElement("li");
    item.append(link(page.address, page.title));
    for (const { section } of sections.slice(0, MOST_SECTIONS)) {
      const line = document.createElement("p");
      if (section.heading !== page.title) line.append(link(`${page.address}#${section.anchor}`, section.heading), ": ");
      line.append(...excerpt(section, patterns));
      item.append(line);
    }
    list.append(item);
  }
  document.querySelector("#search-results").replaceChildren(...(shown.length ? [list] : []));
})();
