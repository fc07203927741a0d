// The picture of the reader's own room: a line a device, the reader's place, and the reader's own speed. The table below
// it holds the same. Series differ by colour, dash and mark, as in every chart of the site (builder/charts/theme.py).
const NAMESPACE = "http://www.w3.org/2000/svg"
const DASHES = ["none", "9 4", "2 3", "10 3 2 3", "4 2", "14 3 2 3 2 3"]
const MARKS = [
  "M-4,0a4,4 0 1,0 8,0a4,4 0 1,0 -8,0Z",
  "M-3.5,-3.5H3.5V3.5H-3.5Z",
  "M0,-5L5,0L0,5L-5,0Z",
  "M-4.5,-4H4.5L0,4Z",
  "M-4.5,-1.5H-1.5V-4.5H1.5V-1.5H4.5V1.5H1.5V4.5H-1.5V1.5H-4.5Z",
  "M-4.5,4H4.5L0,-4Z",
]
const BOUND = "M0,-7V-15M-3,-11L0,-15L3,-11" // at least so much: an arrow upwards

export function roomPicture(shapes, { width, height, spoken }) {
  const { frame, place } = shapes
  const middle = (frame.left + frame.right) / 2
  return draw("svg", { class: "room-chart", width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": spoken },
    ...shapes.up.flatMap(({ y, text }) => [
      draw("path", { class: "grid", d: `M${frame.left},${y}H${frame.right}` }),
      draw("text", { x: frame.left - 6, y: y + 4, "text-anchor": "end" }, text),
    ]),
    draw("rect", { class: "place", x: place.x - 1, y: frame.top, width: Math.max(place.width, 2), height: frame.foot - frame.top }),
    ...(shapes.own === null ? [] : [draw("path", { class: "mine", d: `M${frame.left},${shapes.own}H${frame.right}` })]),
    ...shapes.lines.flatMap((line, i) => lineOf(line, i)),
    ...shapes.across.map(({ x, text }) => draw("text", { x, y: frame.foot + 18, "text-anchor": "middle" }, text)),
    draw("text", { x: middle, y: frame.foot + 35, "text-anchor": "middle" }, "Attenuation (dB)"),
    draw("text", { x: 0, y: 10 }, "Mbit/s"),
    ...(shapes.own === null ? [] : [draw("text", { class: "word", x: frame.right - 4, y: shapes.own - 5, "text-anchor": "end" }, "yours")]),
  )
}

// text -> how wide it is as the name of a line, in the reader's own face; the box is drawn into afterwards. [px]
export function measuredIn(box) {
  const word = draw("text", { class: "word" })
  box.replaceChildren(draw("svg", { class: "room-chart", width: 0, height: 0 }, word))
  return text => {
    word.textContent = text
    return word.getComputedTextLength()
  }
}

function lineOf({ points, pieces, label }, i) {
  const last = points.at(-1)
  return [draw("g", { class: `series-${i + 1}` },
    ...pieces.map(piece => draw("path", { class: "line", "stroke-dasharray": DASHES[i], d: `M${piece.map(place => place.join()).join("L")}` })),
    ...points.map(({ x, y }) => draw("path", { class: "dot", d: MARKS[i], transform: `translate(${x},${y})` })),
    ...points.filter(point => point.bound).map(({ x, y }) => draw("path", { class: "line", d: BOUND, transform: `translate(${x},${y})` })),
    draw("path", { class: "lead", d: `M${last.x + 5},${last.y}L${label.x - 3},${label.y}` }),
    draw("path", { class: "dot", d: MARKS[i], transform: `translate(${label.x + 4},${label.y})` }),
    draw("text", { class: "word", x: label.x + 13, y: label.y + 4 }, label.text),
  )]
}

function draw(tag, attributes, ...children) {
  const element = document.createElementNS(NAMESPACE, tag)
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value)
  element.append(...children)
  return element
}
