// What the pages that people fill in share: what stands in them is kept in this browser, soon after each change.
"use strict";

// `stateOf` gives what is to be kept under `key`, or null where there is nothing; `told` hears whether the browser keeps
// it. A browser may keep nothing, as in a private window: then leaving the page is asked about.
function keeping(key, stateOf, told) {
  let waiting;
  let keeps = true;

  function stop() {
    clearTimeout(waiting);
    waiting = undefined;
  }

  function keep() {
    stop();
    try {
      const state = stateOf();
      if (state === null) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(state));
      keeps = true;
    } catch {
      keeps = false;
    }
    told(keeps);
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
    } catch {
      // nothing was kept
    }
  }

  addEventListener("pagehide", () => waiting !== undefined && keep());
  document.addEventListener("visibilitychange", () => waiting !== undefined && keep());
  addEventListener("beforeunload", (event) => {
    if (!keeps) event.preventDefault();
  });
  return { keep, keepSoon, found, forget };
}
