// Keeps the page of a watch as the watch has it, says a new grave sentence aloud, and hands on what was typed.
"use strict";
(() => {
  const main = () => document.querySelector("main");
  const connection = document.querySelector("#connection");
  const heard = document.querySelector("#heard");
  const graves = () => new Map([...document.querySelectorAll("[data-grave]")].map((one) => [one.id, one.dataset.grave]));
  const MOST_HEARD = 2;
  const [CLICK_MS, MOST_HELD_MS] = [150, 5000]; // a tap becomes a click a moment after the finger is up
  let asking = null, letGo = Promise.resolve();

  function say(text) {
    connection.textContent = text;
    connection.hidden = text === "";
  }

  function show(html) {
    const next = new DOMParser().parseFromString(html, "text/html");
    if (!next.querySelector("main")?.dataset.run) return;
    const before = graves();
    document.title = next.title;
    for (const part of ["#ways", "main"]) window.deskMorph(document.querySelector(part), next.querySelector(part));
    const news = [...graves()].filter(([id]) => !before.has(id)).map(([, text]) => text);
    if (news.length) heard.textContent = news.slice(0, MOST_HEARD).join(" ") + (news.length > MOST_HEARD ? ` And ${news.length - MOST_HEARD} more.` : "");
  }

  // What changes while the page is fetched is fetched after it.
  function update() {
    asking = (asking ?? Promise.resolve()).then(async () => {
      const answer = await fetch(location.pathname + location.search, { cache: "no-store" });
      const html = await answer.text();
      await letGo;
      if (answer.ok) show(html);
    }).catch(() => {});
  }

  // A button that goes while it is pressed would swallow the press, or hand it to the one that took its place. A menu or
  // something that is dragged may swallow the end of a press; then the page goes on after a while.
  const ENDS = ["pointerup", "pointercancel", "keyup", "contextmenu", "dragend", "blur"];
  function hold() {
    const ended = new AbortController();
    letGo = new Promise((resolve) => {
      const end = () => { ended.abort(); setTimeout(resolve, CLICK_MS); };
      for (const name of ENDS) addEventListener(name, end, { signal: ended.signal });
      setTimeout(end, MOST_HELD_MS);
    });
  }

  // A field that was left is kept at once, so that what it says is judged while the row is still at hand.
  async function keep(event) {
    const field = event.target;
    if (!field.matches(".typed input")) return;
    const form = document.querySelector("#form");
    const typed = [...form.elements].filter((one) => one.type === "hidden" && ["token", "given"].includes(one.name));
    const body = new URLSearchParams([...typed, field].map((one) => [one.name, one.value]));
    body.set("act", "keep");
    await fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => null);
    update();
  }

  document.addEventListener("change", keep);
  document.addEventListener("pointerdown", hold);
  document.addEventListener("keydown", (event) => { if (event.key === " " && event.target.matches("button") && !event.repeat) hold(); });
  window.deskListening(() => `${document.body.dataset.events}?shown=${encodeURIComponent(main().dataset.shown)}`, {
    changed: update,
    lost: () => say("The watch has ended; start it again. What is typed here stays, and nothing is written until then."),
    back: () => say(""),
  });
})();
