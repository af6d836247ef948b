// Makes screens for a projector of a lesson's page, by rule, and keeps for each screen what the speaker says to it.
//
// A screen holds one thing: a drawing, a figure, a table, a formula with its symbols, some steps of a worked example or
// of a list, a caution, or at most three statements. A paragraph gives its first sentence and those with a term in
// bold; all of it goes into the notes. What is too long for one screen is split evenly and never made smaller. What
// fits is measured on a screen of 1024 by 768, the narrowest that is usual: letters go with the height, so a wider
// screen holds it too, and the numbers of the screens do not hang on the projector.
"use strict";

const makeScreens = (() => {
  const WIDE = 1024;
  const MOST_STATEMENTS = 3;
  const MOST_ITEMS = 6; // of a list on a screen
  const MOST_READ_OUT = 9; // of options, or of the numbers in a drawing
  const FEW_WORDS = 12; // a statement of fewer takes the next sentence too
  const SHORT_LEAD = 4; // "So:" says nothing without the sentence before it
  const LONG_ITEM = 22; // words, from which an item of a list is said and not read
  const FORMULA_SIZES = [5.6, 4.9, 4.3, 3.8, 3.4, 3.15]; // hundredths of the height
  const SMALLEST_SHARE = 2.8; // letters of a picture in hundredths of the height; with less, parts of it follow enlarged
  const PICTURE_HEIGHT = 94; // hundredths of the height that a picture takes
  const PICTURE_WIDTH = 127;
  const HALF = 0.56; // share of a figure that an enlarged half shows
  const IMAGE_LETTERS = 16; // the letters of figures.mplstyle, 12 points, in pixels
  const WIDE_SHAPE = 1.25; // a drawing wider than this in its height is cut from left to right
  const CLEAR = 4; // units of a drawing that a cut keeps off its lines
  const ENLARGED_SHARE = 3.2; // what the letters of a part should come to
  const MOST_PARTS = 4;
  const CUT_RANGE = 0.35; // how far from even parts a better place to cut may lie, in shares of a part
  const LEFT_OUT = "details.hide, aside.footnote-list, nav, script, style, .moving-all, [role=status]";
  const NOT_A_SENTENCE = /(?:\b(?:e\.g|i\.e|vs|approx|No|Fig|Eq|ca|cf)|(?:^|\s)[A-Z])\.$/;

  const make = (name, className, ...children) => {
    const element = document.createElement(name);
    if (className) element.className = className;
    element.append(...children);
    return element;
  };

  const words = (node) => node.textContent.trim().split(/\s+/).length;

  // A copy that may stand beside its original: without ids, but for pictures and formulas, which refer to their own.
  let copies = 0;

  function copy(element) {
    const made = element.cloneNode(true);
    copies += 1;
    for (const one of [made, ...made.querySelectorAll("[id]")]) if (!one.closest("svg")) one.removeAttribute("id");
    for (const svg of made.matches("svg") ? [made] : made.querySelectorAll("svg")) {
      const held = [...svg.querySelectorAll("[id]")];
      if (!held.length) continue;
      const named = new Map(held.map((one) => [one.id, `c${copies}-${one.id.replace(/^c\d+-/, "")}`]));
      for (const one of [svg, ...svg.querySelectorAll("*")]) {
        for (const attribute of [...one.attributes]) {
          if (attribute.name === "id") one.id = named.get(attribute.value) ?? attribute.value;
          else if (attribute.name === "aria-labelledby") {
            attribute.value = attribute.value.split(" ").map((name) => named.get(name) ?? name).join(" ");
          } else if (attribute.value.includes("#")) {
            attribute.value = attribute.value.replace(/#([\w-]+)/g, (whole, name) => `#${named.get(name) ?? name}`);
          }
        }
      }
    }
    return made;
  }

  // Sentences ------------------------------------------------------------------------------------------------------

  // The sentences of a paragraph, each a copy with its bold words and its formulas, which count as one letter.
  function sentences(paragraph) {
    let text = "";
    const places = [];
    const walker = document.createTreeWalker(paragraph, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT, (node) => {
      if (node.nodeType === Node.TEXT_NODE || node.localName === "mjx-container") return NodeFilter.FILTER_ACCEPT;
      return NodeFilter.FILTER_SKIP;
    });
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      if (node.nodeType !== Node.TEXT_NODE) {
        places.push({ node, from: text.length, whole: true });
        text += "\uFFFC";
      } else if (!node.parentElement.closest("mjx-container")) {
        places.push({ node, from: text.length, whole: false });
        text += node.data;
      }
    }
    const ends = [];
    for (const found of text.matchAll(/[.!?][)"”’]*\s+(?=[A-Z0-9“"(\uFFFC])/g)) {
      const end = found.index + found[0].trimEnd().length;
      if (!NOT_A_SENTENCE.test(text.slice(0, end))) ends.push(end);
    }
    if (!ends.length || text.slice(ends.at(-1)).trim()) ends.push(text.length);
    // At the edge of a bold word a range takes the whole of its element, or the copy would lose the bold.
    const place = (range, side, at) => {
      const start = side === "start";
      const held = places.findLast((one) => one.from < at || (start && one.from <= at)) ?? places[0];
      let { node } = held;
      const offset = at - held.from;
      if (!held.whole && offset > 0 && offset < node.length) return range[start ? "setStart" : "setEnd"](node, offset);
      if (!held.whole && start && offset >= node.length) return range.setStart(node, node.length);
      const beside = start ? "previousSibling" : "nextSibling";
      while (node.parentNode !== paragraph && !node[beside]) node = node.parentNode;
      range[start ? "setStartBefore" : "setEndAfter"](node);
    };
    let begin = 0;
    return ends.map((end) => {
      while (/\s/.test(text[begin] ?? "")) begin += 1;
      const range = document.createRange();
      place(range, "start", begin);
      place(range, "end", end);
      begin = end;
      return range.cloneContents();
    });
  }

  // A sentence that ends in a colon, or without a stop, goes on in the list, table or formula below it.
  const runsOn = (sentence) => !/[.!?][)"”’]*$/.test(sentence.textContent.trim());

  // What of a paragraph is shown: its first sentence, and those with a term in bold; the last alone where it runs on.
  function statement(paragraph, name = "p") {
    const said = sentences(paragraph);
    const bold = (one) => one.querySelector("strong, b");
    const heading = (one) => one && bold(one)?.textContent.trim() === one.textContent.trim(); // says nothing alone
    const key = (one, place) => place === 0 || bold(one) || heading(said[place - 1]);
    const chosen = said.map((one, place) => Boolean(key(one, place)));
    const long = () => said.reduce((sum, one, place) => sum + (chosen[place] ? words(one) : 0), 0);
    while (long() < FEW_WORDS && chosen.includes(false)) chosen[chosen.indexOf(false)] = true;
    const leads = name === "p" && runsOn(said.at(-1));
    const shown = leads ? said.slice(words(said.at(-1)) < SHORT_LEAD ? -2 : -1) : said.filter((_, place) => chosen[place]);
    const made = make(name, "statement");
    shown.forEach((one, place) => made.append(...(place ? [" "] : []), ...one.childNodes));
    return made;
  }

  // Blocks ----------------------------------------------------------------------------------------------------------

  const KINDS = [
    ["section.practice", "question"],
    ["section", "section"],
    [LEFT_OUT, "out"],
    [".cases", "said"],
    ["p", "text"],
    ["div.math", "formula"],
    ["ul, ol", "list"],
    ["figure:has([data-moving])", "moving"],
    ["figure.drawing, figure:has(> svg)", "drawing"],
    ["figure", "figure"],
    [".worked", "worked"],
    [".admonition", "box"],
    [".table-scroll, table", "table"],
    ["div.output:has(> pre)", "other"],
    ["div, blockquote", "inside"],
  ];

  // The blocks of a section in order; those of the sections in it are not among them.
  function* blocks(element) {
    for (const child of [...element.children]) {
      if (/^h[1-6]$/.test(child.localName)) continue;
      const kind = KINDS.find(([selector]) => child.matches(selector))?.[1] ?? "other";
      if (kind === "inside") yield* blocks(child);
      else if (kind !== "section" && kind !== "out") yield { kind, node: child };
    }
  }

  // Screens ---------------------------------------------------------------------------------------------------------

  return (lesson) => {
    const stage = make("div", "projector-measure");
    const stageHeight = (WIDE * 3) / 4;
    stage.style.setProperty("--u", `${stageHeight / 100}px`);
    document.body.append(stage);
    const screens = [];

    function screen(title, nodes, kind = "") {
      const body = make("div", "screen-body", ...nodes);
      const heading = make("h2", "screen-title");
      heading.append(...copy(title).childNodes);
      return make("section", `screen ${kind}`, heading, body);
    }

    function fits(title, nodes, kind) {
      const tried = screen(title, nodes.map(copy), kind);
      stage.replaceChildren(tried);
      const body = tried.querySelector(".screen-body");
      const box = body.getBoundingClientRect();
      const seen = [...body.querySelectorAll("table, svg, mjx-container")].filter((one) => one.getClientRects().length);
      const within = seen.every((one) => {
        const inner = one.getBoundingClientRect();
        return inner.right <= box.right + 1 && inner.bottom <= box.bottom + 1;
      });
      return within && body.scrollHeight <= body.clientHeight + 1 && body.scrollWidth <= body.clientWidth + 1;
    }

    function add(title, nodes, notes, kind) {
      screens.push({ element: screen(title, nodes, kind), title: title.textContent.trim(), notes });
    }

    // The fewest even shares of the items of which each fits; null where a single item does not.
    function shares(items, fit) {
      for (let count = 1; count <= items.length; count += 1) {
        const cut = (place) => Math.round((place * items.length) / count);
        const made = Array.from({ length: count }, (_, place) => items.slice(cut(place), cut(place + 1)));
        if (made.every(fit)) return made;
      }
      return null;
    }

    // Statements of a text that alone is too long for a screen: its sentences one by one.
    function spreadText(title, node, notes, kind) {
      const parts = sentences(node).map((one) => make("p", "statement", one));
      for (const share of shares(parts, (some) => fits(title, some, kind)) ?? parts.map((part) => [part])) {
        add(title, share, notes, kind);
      }
    }

    // With ``whole`` its items are read out in full, as the options of a question are; else a long one is said.
    function spreadList(title, node, lead, notes, whole = false) {
      const ordered = node.localName === "ol";
      const first = Number(node.getAttribute("start") ?? 1);
      const most = whole ? MOST_READ_OUT : MOST_ITEMS;
      const items = [...node.children].map((item, place) => {
        const inner = item.children.length === 1 && item.firstElementChild.localName === "p" ? item.firstElementChild : item;
        const short = whole || inner.querySelector("ul, ol") || words(inner) <= LONG_ITEM;
        const made = short ? make("li", "", ...copy(inner).childNodes) : statement(inner, "li");
        return { made, place: first + place };
      });
      const look = node.matches(".practice-options, .practice-steps") ? "points lettered" : "points";
      const list = (some) => {
        const made = make(ordered ? "ol" : "ul", look, ...some.map((item) => copy(item.made)));
        if (ordered) made.start = some[0].place;
        return made;
      };
      const shared = shares(items, (some) => some.length <= most && fits(title, [...lead, list(some)]));
      for (const some of shared ?? items.map((item) => [item])) add(title, [...lead.map(copy), list(some)], notes);
    }

    function spreadTable(title, node, lead, notes) {
      const table = node.matches("table") ? node : node.querySelector("table");
      const head = [...table.querySelectorAll(":scope > thead > tr")];
      const rows = [...table.querySelectorAll(":scope > tbody > tr")];
      const wide = Math.max(...[...head, ...rows].map((row) => row.children.length));
      const spans = table.querySelector("[colspan], [rowspan]");
      const part = (some, columns) => {
        const cut = (row) => make("tr", "", ...columns.map((at) => row.children[at]).filter(Boolean).map(copy));
        const made = make("table", table.className, make("thead", "", ...head.map(cut)), make("tbody", "", ...some.map(cut)));
        if (table.caption) made.prepend(copy(table.caption));
        return made;
      };
      const all = Array.from({ length: wide }, (_, at) => at);
      const groups = (many) => {
        if (spans || many >= wide) return [all];
        const others = all.slice(1);
        const count = Math.ceil(others.length / (many - 1));
        const cut = (place) => Math.round((place * others.length) / count);
        return Array.from({ length: count }, (_, place) => [0, ...others.slice(cut(place), cut(place + 1))]);
      };
      let columns = [all];
      for (let many = wide; many >= 2; many -= 1) {
        columns = groups(many);
        if (columns.every((group) => rows.every((row) => fits(title, [part([row], group)])))) break;
      }
      for (const group of columns) {
        if (columns.length === 1 && fits(title, [...lead, part(rows, group)])) return add(title, [...lead, part(rows, group)], notes);
        for (const some of shares(rows, (few) => fits(title, [part(few, group)])) ?? rows.map((row) => [row])) {
          add(title, [part(some, group)], notes);
        }
      }
    }

    function spreadWorked(title, node, notes) {
      const steps = [...node.querySelectorAll(":scope > .worked-step")].map((step, place) => ({ step, place }));
      const list = (some) => {
        const made = make("div", "worked", ...some.map((one) => copy(one.step)));
        made.style.setProperty("counter-reset", `step ${some[0].place}`);
        return made;
      };
      for (const some of shares(steps, (few) => fits(title, [list(few)])) ?? steps.map((one) => [one])) {
        add(title, [list(some)], notes);
      }
    }

    function spreadBox(node, notes, kind) {
      const heading = node.querySelector(":scope > .admonition-title");
      const parts = [...node.children]
        .filter((child) => child !== heading)
        .flatMap((child) => {
          if (child.matches("ul, ol")) return [...child.children].map((item) => make("p", "statement", ...copy(item).childNodes));
          return child.localName === "p" ? sentences(child).map((one) => make("p", "statement", one)) : [copy(child)];
        });
      const shared = shares(parts, (some) => some.length <= 4 && fits(heading, some, kind));
      for (const some of shared ?? parts.map((part) => [part])) add(heading, some, notes, kind);
    }

    // A question: its setting, then as many of its parts beside the setting as fit, or the parts alone.
    function spreadQuestion(node) {
      const title = node.querySelector(".practice-title");
      const setting = [...node.querySelectorAll(".practice-setting > *")];
      const kind = "question";
      const told = make("div", "setting", ...setting.map(copy));
      const parts = [...node.querySelectorAll(".practice-part")].map((part) => {
        const made = make("div", "asked", ...[...part.children].filter((one) => !one.matches("details")).map(copy));
        const key = part.querySelector(".practice-key");
        const worked = part.querySelector(".practice-worked");
        const answer = make("div", "answer", make("p", "", make("strong", "", `Answer to ${key?.textContent.trim() ?? "it"}`)));
        if (worked) answer.append(...[...worked.children].filter((one) => one.localName !== "summary").map(copy));
        return { made, answer };
      });
      const notesOf = (some) => some.map((one) => one.answer);
      const beside = (some) => fits(title, [told, ...some.map((one) => one.made)], kind);
      if (beside([])) {
        let some = [];
        const close = () => {
          if (some.length) add(title, [copy(told), ...some.map((one) => one.made)], notesOf(some), kind);
          some = [];
        };
        if (!parts.length || !beside(parts.slice(0, 1))) add(title, [copy(told)], [make("p", "", "The questions follow.")], kind);
        for (const part of parts) {
          if (beside([...some, part])) some.push(part);
          else {
            close();
            if (beside([part])) some = [part];
            else if (fits(title, [part.made], kind)) add(title, [part.made], notesOf([part]), kind);
            else spreadPart(title, part, kind);
          }
        }
        close();
        return;
      }
      for (const one of setting) {
        if (one.matches(".table-scroll, table")) spreadTable(title, one, [], []);
        else if (one.querySelector("img") || one.localName === "img") picture(title, one, []);
        else if (one.localName === "p") spreadText(title, one, [], kind);
        else if (one.matches("ul, ol")) spreadList(title, one, [], [], true);
        else add(title, [copy(one)], [], kind);
      }
      const alone = shares(parts, (some) => fits(title, some.map((one) => one.made), kind));
      for (const some of alone ?? parts.map((one) => [one])) {
        const [first] = some;
        if (alone || fits(title, [first.made], kind)) add(title, some.map((one) => one.made), notesOf(some), kind);
        else spreadPart(title, first, kind);
      }
    }

    // A part whose options or table do not fit on one screen with its question: the question leads each share of them.
    function spreadPart(title, { made, answer }, kind) {
      const key = made.querySelector(".practice-key")?.textContent.trim() ?? "";
      const asked = [...made.querySelectorAll(".practice-ask > div > *")];
      const others = [...made.children].filter((one) => !one.matches(".practice-ask"));
      let lead = null;
      const tell = () => {
        if (lead) spreadText(title, lead, [answer], kind);
        lead = null;
      };
      for (const one of [...asked, ...others]) {
        const list = one.matches("ul, ol");
        if (!list && !one.matches(".table-scroll, table")) {
          tell();
          lead = make("p", "statement", asked[0] === one && key ? `${key} ` : "", ...copy(one).childNodes);
          continue;
        }
        const least = list ? [make(one.localName, "points", copy(one.firstElementChild))] : [one];
        const leads = lead && fits(title, [lead, ...least]) ? [lead] : [];
        if (leads.length) lead = null;
        tell();
        if (list) spreadList(title, one, leads, [answer], true);
        else spreadTable(title, one, leads, [answer]);
      }
      tell();
    }

    function picture(title, node, notes) {
      const drawing = node.querySelector("svg");
      const shown = node.matches("figure") ? node : make("figure", "", node);
      if (!shown.querySelector("figcaption")) shown.append(make("figcaption", "", title.textContent.trim()));
      const said = drawing?.querySelector("desc")?.textContent ?? node.querySelector("img")?.alt;
      const told = [...notes];
      if (said) told.push(make("p", "", make("strong", "", "The picture shows: "), said));
      const number = node.querySelector(".caption-number")?.textContent.trim();
      if (number) shown.append(make("p", "number", number));
      add(title, [shown], told, "picture");
      const legend = node.querySelector(".legend :is(ol, ul)");
      if (drawing) enlargeDrawing(title, shown, told);
      else if (node.querySelector("img")) enlargeImage(title, shown, told);
      if (legend) spreadList(title, legend, [make("p", "", number ? `The numbers in ${number}:` : "The numbers:")], told, true);
    }

    // A picture whose letters are small for the last row is shown whole, and then in as many parts as make them large.
    // A part ends where the fewest lines and no words are cut.
    function enlargeDrawing(title, shown, told) {
      stage.replaceChildren(screen(title, [copy(shown)], "picture"));
      const drawing = stage.querySelector("svg");
      const scale = drawing.getScreenCTM().a / (stageHeight / 100);
      const texts = [...drawing.querySelectorAll("text")];
      const letters = Math.min(...texts.map((text) => parseFloat(getComputedStyle(text).fontSize) * scale));
      if (!(letters < SMALLEST_SHARE)) return;
      const box = drawing.viewBox.baseVal;
      const wide = box.width > box.height * WIDE_SHAPE;
      const [from, size, side] = wide ? ["x", "width", "right"] : ["y", "height", "bottom"];
      const frame = drawing.getBoundingClientRect();
      const drawn = [...drawing.querySelectorAll("text, path, line, rect, circle, ellipse, polyline, polygon")].map((one) => {
        const edges = one.getBoundingClientRect();
        const place = (at) => ((at - frame[wide ? "left" : "top"]) / frame[size]) * box[size] + box[from];
        return { from: place(edges[wide ? "left" : "top"]), to: place(edges[side]), cost: one.localName === "text" ? 100 : 1 };
      });
      const cost = (at, even) => {
        const cut = drawn.reduce((sum, one) => sum + (one.from < at + CLEAR && one.to > at - CLEAR ? one.cost : 0), 0);
        return cut + Math.abs(at - even) / box[size];
      };
      const cutInto = (count) => {
        const cuts = Array.from({ length: count - 1 }, (_, place) => {
          const even = box[from] + (box[size] * (place + 1)) / count;
          const tried = Array.from({ length: 61 }, (_, step) => even + ((step - 30) / 30) * CUT_RANGE * (box[size] / count));
          return tried.reduce((best, at) => (cost(at, even) < cost(best, even) ? at : best));
        });
        return [box[from], ...cuts, box[from] + box[size]];
      };
      const longest = (ends) => Math.max(...ends.slice(1).map((end, place) => end - ends[place]));
      let count = 2;
      while (count < MOST_PARTS && (letters * box[size]) / longest(cutInto(count)) < ENLARGED_SHARE) count += 1;
      const ends = cutInto(count);
      ends.slice(1).forEach((end, place) => {
        const part = copy(shown);
        const enlarged = part.querySelector("svg");
        const view = { x: box.x, y: box.y, width: box.width, height: box.height, [from]: ends[place], [size]: end - ends[place] };
        enlarged.setAttribute("viewBox", `${view.x} ${view.y} ${view.width} ${view.height}`);
        enlarged.style.setProperty("--shape", view.width / view.height);
        enlarged.removeAttribute("aria-labelledby");
        enlarged.setAttribute("aria-label", `Part ${place + 1} of ${count} of the drawing, enlarged`);
        add(title, [part], told, "picture enlarged");
      });
    }

    function enlargeImage(title, shown, told) {
      const image = shown.querySelector("img");
      const [wide, high] = [image.naturalWidth, image.naturalHeight];
      const scale = Math.min(PICTURE_HEIGHT / high, PICTURE_WIDTH / wide);
      if (!wide || IMAGE_LETTERS * scale >= SMALLEST_SHARE) return;
      const tall = high >= wide;
      ["start", "end"].forEach((side, place) => {
        const part = copy(shown);
        const enlarged = part.querySelector("img");
        enlarged.alt = `Part ${place + 1} of 2 of the figure, enlarged`;
        enlarged.className = `half ${tall ? "tall" : "wide"} ${side}`;
        enlarged.style.aspectRatio = tall ? `${wide} / ${high * HALF}` : `${wide * HALF} / ${high}`;
        add(title, [part], told, "picture enlarged");
      });
    }

    // The figure itself and no copy, since its script holds it. It shows the readout that it announces, and of the
    // others as many as there is room for; all of them go into the notes.
    function addMoving(title, node, notes) {
      const rows = [...node.querySelectorAll("[data-readout]")];
      const { said } = JSON.parse(node.querySelector("script[data-settings]").textContent);
      const told = copy(node.querySelector(".moving-readouts"));
      const spare = rows.filter((_, place) => !said.includes(place));
      node.querySelector("[data-controls]").hidden = false;
      while (spare.length && !fits(title, [node], "moves")) spare.pop().hidden = true;
      add(title, [node], [...notes, told], "moves");
    }

    function* sectionsOf(element) {
      yield element;
      for (const child of element.querySelectorAll(":scope > section:not(.practice)")) yield* sectionsOf(child);
    }

    function section(element) {
      const title = element.querySelector(":scope > :is(h1, h2, h3, h4)");
      if (!title) return;
      let texts = []; // statements that no screen has yet
      let formula = null; // the last screen, where it is a formula that still takes its symbols

      const nodesOf = (some) => some.map((one) => one.shown);
      const notesOf = (some) => some.flatMap((one) => one.notes);

      function flush() {
        const some = texts;
        texts = [];
        const shared = shares(some, (few) => few.length <= MOST_STATEMENTS && fits(title, nodesOf(few)));
        for (const few of shared ?? some.map((one) => [one])) {
          if (shared || fits(title, nodesOf(few))) add(title, nodesOf(few), notesOf(few));
          else spreadText(title, few[0].shown, few[0].notes);
        }
      }

      // A formula cannot be split: where it is too wide, its letters alone may be smaller, within what can be read.
      function sized(node) {
        const made = copy(node);
        const size = FORMULA_SIZES.find((one) => {
          made.style.fontSize = `calc(${one} * var(--u))`;
          return fits(title, [made]);
        });
        made.style.fontSize = `calc(${size ?? FORMULA_SIZES.at(-1)} * var(--u))`;
        return made;
      }

      function showFormula(plain, notes) {
        const node = sized(plain);
        const lead = texts.slice(-1);
        if (!lead.length && formula?.formulas < 2 && fits(title, [...formula.nodes, node])) {
          formula.nodes.push(node);
          formula.notes.push(...notes);
          formula.formulas += 1;
        } else {
          const led = lead.length && fits(title, [lead[0].shown, node]) ? texts.splice(-1) : [];
          flush();
          closeFormula();
          formula = { nodes: [...nodesOf(led), node], notes: [...notesOf(led), ...notes], formulas: 1, texts: led.length };
        }
      }

      function closeFormula() {
        if (formula) add(title, formula.nodes, formula.notes);
        formula = null;
      }

      function showText(node, notes) {
        const shown = statement(node);
        const about = shown.querySelector("mjx-container") || /^[a-z]/.test(shown.textContent.trim());
        const symbols = about && !runsOn(shown);
        if (formula && !texts.length && formula.texts < 2 && symbols && fits(title, [...formula.nodes, shown])) {
          formula.nodes.push(shown);
          formula.notes.push(...notes);
          formula.texts += 1;
          return;
        }
        closeFormula();
        texts.push({ shown, notes });
      }

      // The statement before a list, a table or a worked example leads to it, and stays with it where both fit.
      function leadTo(shown) {
        const lead = texts.slice(-1);
        return lead.length && fits(title, [lead[0].shown, ...shown]) ? texts.splice(-1) : [];
      }

      function show({ kind, node }) {
        const notes = [copy(node)];
        if (kind === "text") return showText(node, notes);
        if (kind === "formula") return showFormula(node, notes);
        if (kind === "said") {
          flush();
          closeFormula();
          screens.at(-1)?.notes.push(...notes);
          return;
        }
        let led = [];
        if (kind === "list") led = leadTo([make(node.localName, "points", copy(node.firstElementChild))]);
        else if (kind === "table") led = leadTo([node]);
        else if (["drawing", "figure", "moving"].includes(kind) && texts.at(-1)?.shown.querySelector(".std-numref")) {
          led = texts.splice(-1); // "Fig. 3 shows" is said when it is shown
        }
        flush();
        closeFormula();
        const all = [...notesOf(led), ...notes];
        if (kind === "list") spreadList(title, node, nodesOf(led), all);
        else if (kind === "table") spreadTable(title, node, nodesOf(led), all);
        else if (kind === "worked") spreadWorked(title, node, all);
        else if (kind === "box") spreadBox(node, all, node.matches(".caution, .warning, .danger") ? "box warn" : "box");
        else if (kind === "question") spreadQuestion(node);
        else if (kind === "drawing" || kind === "figure") picture(title, node, [...notesOf(led), ...captionOf(node)]);
        else if (kind === "moving") addMoving(title, node, [...notesOf(led), ...captionOf(node)]);
        else add(title, [copy(node)], all);
      }

      const captionOf = (node) => [...node.querySelectorAll("figcaption")].map(copy);
      const found = [...blocks(element)];
      if (title.localName === "h1") {
        const intro = found.filter((block) => block.kind === "text").map((block) => block.node);
        add(title, intro.slice(0, 1).map((node) => statement(node)), intro.map(copy), "first");
      }
      for (const block of found) if (title.localName !== "h1" || block.kind !== "text") show(block);
      flush();
      closeFormula();
    }

    for (const one of sectionsOf(lesson.querySelector(":scope > section"))) section(one);
    stage.remove();
    return screens;
  };
})();
