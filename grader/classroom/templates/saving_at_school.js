// The worksheet in a classroom: what is typed is saved on the school's machine too, now or when the network is back.
"use strict";

// `fields` are the fields of the page by name, each with value(), put(value) and its label; `sheet` is what else of the
// worksheet is needed. What is sent is what differs from what the school's machine said it holds, so nothing has to be
// queued: what was lost on its way is made again from what stands in the page. Beside the answers the browser keeps what the
// school held when it was last heard, and when each answer that it does not hold was typed.
function savingAtSchool(fields, { lookAtAll, keep, say }) {
  const SOON = 1000;
  const BEAT = 15_000;
  const LONGEST = 15_000;
  const PATIENCE = 10_000;
  const WARNINGS = [15, 5, 1];
  const one = (selector) => document.querySelector(selector);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const token = one("[data-token]").dataset.token;

  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const empty = new Map([...fields].map(([name, field]) => [name, field.value()]));
  // By field: {number, value} as the school holds it.
  const held = new Map();
  // By field: when what the school does not hold was typed, by the page's clock that only goes on.
  const typed = new Map();
  // By field: its value when it was last looked at.
  const noted = new Map(empty);
  // By field: a value that the school's machine did not take, and why.
  const refused = new Map();
  let seen = 0;
  let begun = false; // answers of before are in the page, and the school was asked once
  let waiting = null; // the message that is on its way, or was lost on it
  let timer;
  let failures = 0;
  let reached = true;
  let trouble = "";
  let savedAt = null;
  let endsAt = null;
  let warned = null;
  let others = 0;
  let wantsToHandIn = false;
  let receipt = null;

  // What the browser keeps ---------------------------------------------------------------------------------------

  function notes() {
    note();
    const now = performance.now();
    return {
      seen,
      held: Object.fromEntries(held),
      typed: Object.fromEntries([...typed].map(([name, at]) => [name, Date.now() - (now - at)])),
      wantsToHandIn,
    };
  }

  function takeNotes(kept) {
    for (const [name, each] of Object.entries(kept?.held ?? {})) if (fields.has(name)) held.set(name, each);
    for (const [name, at] of Object.entries(kept?.typed ?? {})) {
      if (fields.has(name)) typed.set(name, performance.now() - Math.max(0, Date.now() - at));
    }
    wantsToHandIn = kept?.wantsToHandIn === true;
  }

  // What is not at the school yet --------------------------------------------------------------------------------

  const heldValue = (name) => (held.has(name) ? held.get(name).value : empty.get(name));
  // Of what the school refused only another value is sent again.
  const isRefused = (name) => refused.has(name) && same(refused.get(name).value, fields.get(name).value());
  const refusal = () => [...refused].filter(([name]) => isRefused(name)).map(([name, { says }]) => `${fields.get(name).label}: ${says}`)[0];
  const unsaved = () => [...fields].filter(([name, field]) => !same(field.value(), heldValue(name))).map(([name]) => name);

  // Notes when a field was changed by hand; gives whether one was.
  function note() {
    let isNew = false;
    for (const [name, field] of fields) {
      const value = field.value();
      if (!same(value, noted.get(name))) {
        typed.set(name, performance.now());
        noted.set(name, value);
        isNew = true;
      }
      if (begun && same(value, heldValue(name))) typed.delete(name);
    }
    return isNew;
  }

  function changed() {
    if (receipt !== null) return;
    if (note() && wantsToHandIn) {
      wantsToHandIn = false;
      say("You changed an answer, so nothing was handed in yet.");
    }
    show();
    if (begun && unsaved().length) soon(SOON);
  }

  // Sending ------------------------------------------------------------------------------------------------------

  function soon(wait) {
    clearTimeout(timer);
    timer = setTimeout(go, wait);
  }

  async function post(address, message) {
    const stop = new AbortController();
    const late = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const answer = await fetch(address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Pitside-Page": token },
        body: JSON.stringify(message),
        signal: stop.signal,
      });
      return { status: answer.status, told: await answer.json() };
    } finally {
      clearTimeout(late);
    }
  }

  function nameOfMessage() {
    return [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  function made() {
    const names = begun && receipt === null ? unsaved().filter((name) => !isRefused(name)) : [];
    const answers = names.map((name) => {
      return { name, value: fields.get(name).value(), base: held.get(name)?.number ?? 0, at: typed.get(name) ?? performance.now() };
    });
    return { name: nameOfMessage(), seen, answers };
  }

  // How long ago something was typed is said when it is sent, for it may have waited.
  function spelled({ name, seen: known, answers }) {
    const now = performance.now();
    const each = ({ value, base, at }) => ({ value, base, ago: Math.max(0, now - at) / 1000 });
    return { name, seen: known, answers: Object.fromEntries(answers.map((answer) => [answer.name, each(answer)])) };
  }

  let busy = false;
  async function go() {
    clearTimeout(timer);
    if (busy) return;
    busy = true;
    // A message that was lost on its way is sent again under its name, so that it counts once.
    waiting ??= made();
    try {
      const { status, told } = await post("/save", spelled(waiting));
      if (status === 200) {
        const sent = new Map(waiting.answers.map((answer) => [answer.name, answer.value]));
        waiting = null;
        taken(sent, told);
      } else {
        if (status !== 429 && status !== 503) waiting = null;
        failed(status, told.says);
      }
    } catch {
      failed(0, "");
    }
    busy = false;
    if (receipt === null && reached && wantsToHandIn && !unsaved().length) await handIn();
    show();
    // After handing in nothing is left to say, unless this page has still to hear of it.
    if (receipt === null) soon(!reached ? Math.min(LONGEST, SOON * 2 ** failures) : made().answers.length ? SOON : BEAT);
  }

  function failed(status, says) {
    reached = false;
    failures += 1;
    trouble = status === 401 ? "in" : status === 0 ? "" : says;
    if (failures === 2) tell(line().text);
  }

  // What the school's machine says it holds now; `sent` is what this page sent it.
  function taken(sent, told) {
    const wasGone = !reached && failures >= 2;
    reached = true;
    failures = 0;
    trouble = "";
    const fromOthers = [];
    for (const [name, answer] of Object.entries(told.answers)) {
      const field = fields.get(name);
      if (field === undefined) continue;
      const mine = sent.has(name);
      const before = field.value();
      // Typed here meanwhile, or kept from before and not sent yet: that goes to the school first.
      const isOpen = mine ? !same(before, sent.get(name)) : begun ? typed.has(name) : typed.has(name) && !same(before, answer.value);
      if (isOpen && !mine) continue;
      held.set(name, { number: answer.number, value: answer.value });
      if (isOpen) continue;
      typed.delete(name);
      if (!same(before, answer.value)) {
        field.put(answer.value);
        if (begun) fromOthers.push(field.label);
      }
    }
    seen = Math.max(seen, told.number);
    for (const [name, says] of Object.entries(told.refused)) if (sent.has(name)) refused.set(name, { value: sent.get(name), says });
    if (wantsToHandIn && refusal()) {
      wantsToHandIn = false;
      say(`Nothing was handed in. ${refusal()}`);
    }
    begun = true;
    for (const [name, field] of fields) noted.set(name, field.value());
    note();
    lookAtAll();
    keep();
    savedAt = new Date();
    if (told.left === null) endsAt = null;
    else endsAt = performance.now() / 1000 + told.left;
    if (fromOthers.length) {
      tell(`Another device answered later. Its answer is kept: ${fromOthers.join("; ")}.`, true);
      if (wantsToHandIn) wantsToHandIn = false;
    }
    if (told.others > others) tell("This paper is open on another device too. Work on one of them: of two answers the later one is kept.", true);
    others = told.others;
    if (wasGone && receipt === null) tell("The network is back.");
    if (told.receipt) done(told.receipt);
  }

  // Handing in ---------------------------------------------------------------------------------------------------

  function ask() {
    if (receipt !== null) return;
    const open = one("[data-progress]").textContent;
    one("[data-hand-in-text]").textContent = `${open}. You cannot change anything after that.`;
    one("[data-hand-in-sure]").returnValue = "";
    one("[data-hand-in-sure]").showModal();
  }

  async function handIn() {
    busy = true;
    try {
      const answers = Object.fromEntries([...fields].map(([name, field]) => [name, field.value()]));
      const { status, told } = await post("/hand-in", { answers });
      if (status === 200) {
        taken(new Map(), told);
      } else if (status === 409) {
        wantsToHandIn = false;
        say("Something changed on another device, so nothing was handed in. Look at your answers, then hand in again.");
        soon(0);
      } else failed(status, told.says);
    } catch {
      failed(0, "");
    }
    busy = false;
  }

  function done(told) {
    const isNew = receipt === null && wantsToHandIn;
    receipt = told;
    // What the page shows from now on is what was handed in.
    const apart = unsaved();
    for (const name of apart) fields.get(name).put(heldValue(name));
    if (apart.length) lookAtAll();
    wantsToHandIn = false;
    clearTimeout(timer);
    for (const field of all(".part input, .part select, .part textarea, .part button")) field.disabled = true;
    for (const place of all("[data-before], [data-hand-in], [data-open]")) place.hidden = true;
    one("[data-clear]").hidden = false;
    const when = new Date(told.day).toLocaleString([], { dateStyle: "medium", timeStyle: "medium" });
    const late = told.late > 0 ? ` This was ${told.late} ${told.late === 1 ? "minute" : "minutes"} after your time was over, and is marked late.` : "";
    one("[data-receipt-when]").textContent = `The school's machine has your script. Time: ${when}.${late}`;
    one("[data-receipt-file]").textContent = told.file;
    one("[data-digest]").textContent = told.digest.match(/.{1,8}/g).join(" ");
    one("[data-receipt]").hidden = false;
    say("Handed in. Your receipt is at the end of this page. On a shared computer press Clear this page now.");
    if (isNew) {
      one("[data-receipt]").scrollIntoView({ block: "center" });
      one("[data-receipt]").focus();
    }
  }

  // Saying -------------------------------------------------------------------------------------------------------

  function tell(text, plainly = false) {
    one("[data-school-said]").textContent = text;
    if (plainly) say(text);
  }

  function line() {
    if (receipt !== null) return { state: "fine", text: "Handed in" };
    const count = unsaved().length;
    const open = count === 1 ? "1 answer is not saved at the school yet." : `${count} answers are not saved at the school yet.`;
    if (!reached && failures >= 2) {
      if (trouble === "in") return { state: "gone", text: "This browser is not let in any more. Leave this page open, open the address of your slip in another tab, and give your code there." };
      if (trouble) return { state: "gone", text: `${trouble} ${count ? open : ""}` };
      return { state: "gone", text: `The school's machine is not reached. Go on working and leave this page open. ${count ? open : ""}` };
    }
    if (refusal()) return { state: "gone", text: refusal() };
    if (wantsToHandIn) return { state: "wait", text: "Handing in …" };
    if (!begun || savedAt === null) return { state: "wait", text: "Asking the school's machine …" };
    if (count) return { state: "wait", text: open };
    return { state: "fine", text: `Saved at the school at ${savedAt.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}` };
  }

  function show() {
    const { state, text } = line();
    const place = one("[data-school]");
    if (place.textContent !== text) place.textContent = text;
    const short = one("[data-school-short]");
    short.textContent = receipt !== null ? "Handed in" : { fine: "Saved", wait: "Not saved yet", gone: "School not reached" }[state];
    place.dataset.state = short.dataset.state = state;
    showTime();
  }

  function showTime() {
    const places = all("[data-time], [data-time-short]");
    const put = (text) => places.forEach((place) => (place.textContent = text));
    if (endsAt === null || receipt !== null) return put("");
    const left = Math.ceil(endsAt - performance.now() / 1000);
    const minutes = Math.ceil(left / 60);
    if (left <= 0) put("Time is over");
    else if (left > 300) put(`${minutes} minutes left`);
    else put(`${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")} left`);
    const due = left <= 0 ? 0 : WARNINGS.filter((each) => minutes <= each).pop();
    if (due !== undefined && due !== warned) {
      warned = due;
      if (due === 0) tell("Your time is over. Hand in now. You can still hand in, but it is marked late.", true);
      else tell(`${minutes === 1 ? "1 minute is" : `${minutes} minutes are`} left.`, true);
    }
    return undefined;
  }

  // Start --------------------------------------------------------------------------------------------------------

  for (const button of all("[data-hand-in]")) button.addEventListener("click", ask);
  one("[data-hand-in-sure]").addEventListener("close", (event) => {
    if (event.target.returnValue !== "yes") return;
    wantsToHandIn = true;
    keep();
    show();
    go();
  });
  one("[data-clear]").hidden = true;
  addEventListener("online", () => soon(0));
  document.addEventListener("visibilitychange", () => document.hidden || receipt !== null || soon(0));
  addEventListener("beforeunload", (event) => {
    if (receipt === null && begun && unsaved().length) event.preventDefault();
  });
  setInterval(showTime, 1000);

  return {
    changed,
    notes,
    begin(kept) {
      takeNotes(kept);
      for (const [name, field] of fields) noted.set(name, field.value());
      show();
      go();
    },
    async cleared() {
      try {
        await post("/leave", {});
      } catch {
        // The browser forgot all; the school's machine lets it in a little longer.
      }
      location.replace("/");
    },
  };
}
