// What a reader chose, kept in the fragment of the address: it survives reload, back and sharing, and a fragment is
// never sent to any server.

export function readState(fragment) {
  const text = fragment.replace(/^#/, "")
  return text.includes("=") ? Object.fromEntries(new URLSearchParams(text)) : {}
}

export function writeState(state) {
  const kept = Object.entries(state).filter(([, value]) => value !== "" && value !== null && value !== undefined)
  return kept.length ? `#${new URLSearchParams(kept)}` : ""
}

// Keep choices in the address bar beside those of other tools; an empty one goes. "back" undoes the step.
export function keepState(choices) {
  const fragment = writeState({ ...readState(location.hash), ...choices })
  if (fragment === location.hash) return
  history.pushState(null, "", fragment || location.pathname + location.search)
}

export function onReturn(apply) {
  addEventListener("popstate", () => apply(readState(location.hash)))
}
