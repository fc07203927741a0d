// Building and filling parts of a page, always as text, in which numbers stay beside their units.
import { unbroken } from "./rounding.mjs"

export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag)
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value)
  element.append(...children.map(child => (typeof child === "string" ? unbroken(child) : child)))
  return element
}

export function say(element, text) {
  element.textContent = unbroken(text)
}

export function optionsOf(select, entries, chosen) {
  select.replaceChildren(...entries.map(([value, text]) => make("option", { value }, text)))
  if (entries.some(([value]) => value === chosen)) select.value = chosen
}
