// Turns a part of the page into another without exchanging what stays: focus, place and what somebody types are left
// alone. Elements are the same where their ids are, else where they are of one kind at one place; a button also has to
// say the same, or who has it under a finger would answer something else.
"use strict";
(() => {
  const same = (old, next) => old.nodeType === next.nodeType && old.nodeName === next.nodeName && (old.id ?? "") === (next.id ?? "")
    && (old.nodeName !== "BUTTON" || old.value === next.value);

  function attributes(old, next) {
    // A reader opens and closes parts; the page only says how they begin.
    const kept = (name) => old.nodeName === "DETAILS" && name === "open";
    for (const { name } of [...old.attributes]) if (!next.hasAttribute(name) && !kept(name)) old.removeAttribute(name);
    for (const { name, value } of next.attributes) if (old.getAttribute(name) !== value && !kept(name)) old.setAttribute(name, value);
  }

  // A field that somebody changed keeps what it holds; the attribute then says what the page would show.
  function field(old, next) {
    const untouched = old.value === old.defaultValue && old !== document.activeElement;
    attributes(old, next);
    if (untouched && old.value !== next.defaultValue) old.value = next.defaultValue;
  }

  function choice(old, next) {
    const chosen = old.value;
    children(old, next);
    if ([...old.options].some((option) => option.value === chosen)) old.value = chosen;
  }

  function children(old, next) {
    const byId = new Map([...old.children].filter((one) => one.id).map((one) => [one.id, one]));
    let at = old.firstChild;
    for (const wanted of [...next.childNodes]) {
      const moved = byId.get(wanted.id);
      if (moved && moved !== at && same(moved, wanted)) { old.insertBefore(moved, at); at = moved; }
      if (at && same(at, wanted)) {
        morph(at, wanted);
        at = at.nextSibling;
      } else {
        old.insertBefore(document.importNode(wanted, true), at);
      }
    }
    while (at) { const gone = at; at = at.nextSibling; gone.remove(); }
  }

  function morph(old, next) {
    if (old.nodeType !== Node.ELEMENT_NODE) { if (old.data !== next.data) old.data = next.data; return; }
    if (old.isEqualNode(next)) return;
    if (old.nodeName === "INPUT" && old.type !== "hidden") { field(old, next); return; }
    attributes(old, next);
    if (old.nodeName === "SELECT") choice(old, next);
    else children(old, next);
  }

  window.deskMorph = morph;
})();
