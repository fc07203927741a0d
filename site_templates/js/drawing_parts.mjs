// Building pictures part by part, always as text, and how wide a text is in the reader's own face.
const NAMESPACE = "http://www.w3.org/2000/svg"

export function svgPart(tag, attributes, ...children) {
  const element = document.createElementNS(NAMESPACE, tag)
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value)
  element.append(...children)
  return element
}

export function svgLine(d, name) {
  return svgPart("path", { d, class: name })
}

export function svgText(x, y, name, text, anchor = "start") {
  return svgPart("text", { x, y, class: name, "text-anchor": anchor }, text)
}

// {measure, letters}: text -> how wide it is in bold, and how large letters are; the box is drawn into afterwards. [px]
export function measuredIn(box) {
  const word = svgPart("text", { class: "strong" })
  box.replaceChildren(svgPart("svg", { class: "room-picture", width: 0, height: 0 }, word))
  const measure = text => {
    word.textContent = text
    return word.getComputedTextLength()
  }
  return { measure, letters: parseFloat(getComputedStyle(word).fontSize) }
}
