// Listens to what a server on this machine has to say of the page, while it is in view: a browser keeps six connections
// to a server. The server says at once what was missed. Without an answer it is asked again, less and less often.
"use strict";
window.deskListening = (address, { changed, lost = () => {}, back = () => {} }) => {
  const [FIRST_MS, MOST_MS] = [1000, 60000];
  let events = null, again = 0, wait = FIRST_MS, failed = 0;

  function close() {
    clearTimeout(again);
    events?.close();
    events = null;
  }

  function later() {
    close();
    again = setTimeout(listen, wait);
    wait = Math.min(2 * wait, MOST_MS);
  }

  function listen() {
    close();
    if (document.hidden) return;
    events = new EventSource(address());
    events.addEventListener("open", () => { failed = 0; wait = FIRST_MS; back(); });
    events.addEventListener("changed", changed);
    events.addEventListener("error", () => { if (++failed > 1) lost(); later(); });
  }

  function anew() {
    wait = FIRST_MS;
    listen();
  }

  document.addEventListener("visibilitychange", anew);
  addEventListener("focus", () => { if (failed) anew(); }); // as after a look at the terminal
  addEventListener("pagehide", close);
  listen();
};
