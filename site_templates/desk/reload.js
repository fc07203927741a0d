// Shows a preview's page anew when what it shows has changed. Where the reader was stays: the place on the page, parts
// that were opened, and what had the focus. While somebody types nothing moves; a line says that there is news.
"use strict";
(() => {
  const script = document.currentScript;
  const STATE = `likeloss-preview ${location.pathname}`;
  const TYPING = "input:not([type=checkbox]):not([type=radio]):not([type=button]), textarea, select, [contenteditable]";
  const opened = () => [...document.querySelectorAll("details")];
  const focusable = () => [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex]")];

  function remember() {
    const state = { x: scrollX, y: scrollY, open: opened().map((one) => one.open), focus: focusable().indexOf(document.activeElement) };
    sessionStorage.setItem(STATE, JSON.stringify(state));
  }

  function restore() {
    const text = sessionStorage.getItem(STATE);
    if (text === null) return;
    sessionStorage.removeItem(STATE);
    const state = JSON.parse(text);
    opened().forEach((one, place) => { if (state.open[place]) one.open = true; });
    focusable()[state.focus]?.focus({ preventScroll: true });
    scrollTo({ left: state.x, top: state.y, behavior: "instant" });
  }

  function reload() {
    remember();
    location.reload();
  }

  function waitForTyping() {
    if (document.querySelector(".desk-news")) return;
    const news = document.createElement("p");
    news.className = "desk-news";
    news.setAttribute("role", "status");
    news.textContent = "This page has changed. It is shown anew when you leave the field.";
    document.body.append(news);
    document.addEventListener("focusout", () => setTimeout(() => { if (!document.activeElement?.matches(TYPING)) reload(); }));
  }

  addEventListener("load", () => {
    restore();
    const { events, page, shown } = script.dataset;
    window.deskListening(() => `${events}?page=${encodeURIComponent(page)}&shown=${shown}`, {
      changed: () => (document.activeElement?.matches(TYPING) ? waitForTyping() : reload()),
    });
  });
})();
