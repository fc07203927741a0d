// Building and filling parts of a page, always as text.

export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag)
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value)
  element.append(...children)
  return element
}

export function optionsOf(select, entries, chosen) {
  select.replaceChildren(...entries.map(([value, text]) => make("option", { value }, text)))
  if (entries.some(([value]) => value === chosen)) select.value = chosen
}
