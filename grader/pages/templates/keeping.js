// What the pages that people fill in share: what stands in them is kept in this browser, soon after each change.
"use strict";

// `stateOf` gives what is to be kept under `key`, or null where there is nothing; `told` hears whether the browser keeps
// it. A browser may keep nothing, as in a private window: then leaving the page is asked about.
//
// It is kept twice. Local storage can be read at once when the page opens, but a browser writes it to the disk only after
// a while, up to a minute: a device whose battery runs out, or a browser that is ended, would lose that. The database is
// written at once. Where it is ahead when the page opens, local storage gets its state, and the page is opened anew.
function keeping(key, stateOf, told) {
  const STORE = "kept";
  let waiting;
  let keeps = true;
  let compared = false;
  let database = null;

  function stop() {
    clearTimeout(waiting);
    waiting = undefined;
  }

  function inDatabase(text, at) {
    try {
      database?.transaction(STORE, "readwrite", { durability: "strict" }).objectStore(STORE).put({ text, at }, key);
    } catch {
      database = null; // local storage goes on alone
    }
  }

  function keep() {
    stop();
    // What the database has must not be written over before it was looked at.
    if (!compared) return keepSoon();
    try {
      const state = stateOf();
      const at = Math.max(Date.now(), atOf(localStorage.getItem(key)) + 1);
      const text = state === null ? null : JSON.stringify({ ...state, kept_at: at });
      if (text === null) localStorage.removeItem(key);
      else localStorage.setItem(key, text);
      inDatabase(text, at);
      keeps = true;
    } catch {
      keeps = false;
    }
    return told(keeps);
  }

  function keepSoon() {
    stop();
    waiting = setTimeout(keep, 300);
  }

  function found() {
    try {
      return JSON.parse(localStorage.getItem(key));
    } catch {
      return null;
    }
  }

  function forget() {
    stop();
    try {
      localStorage.removeItem(key);
      inDatabase(null, Date.now());
    } catch {
      // nothing was kept
    }
  }

  function atOf(text) {
    try {
      return JSON.parse(text)?.kept_at ?? 0;
    } catch {
      return 0;
    }
  }

  function compare() {
    const alone = setTimeout(() => (compared = true), 2000);
    const ready = () => {
      clearTimeout(alone);
      compared = true;
    };
    try {
      const opening = indexedDB.open("pitside", 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore(STORE);
      opening.onerror = ready;
      opening.onsuccess = () => {
        database = opening.result;
        const asked = database.transaction(STORE).objectStore(STORE).get(key);
        asked.onerror = ready;
        asked.onsuccess = () => {
          const { text, at } = asked.result ?? { text: null, at: 0 };
          const there = localStorage.getItem(key);
          const isAhead = !compared && at > atOf(there) && text !== there;
          ready();
          if (!isAhead) return;
          if (text === null) localStorage.removeItem(key);
          else localStorage.setItem(key, text);
          stop();
          location.reload();
        };
      };
    } catch {
      ready();
    }
  }

  addEventListener("pagehide", () => waiting !== undefined && keep());
  document.addEventListener("visibilitychange", () => waiting !== undefined && keep());
  addEventListener("beforeunload", (event) => {
    if (!keeps) event.preventDefault();
  });
  compare();
  return { keep, keepSoon, found, forget };
}
