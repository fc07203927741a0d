// The picture of the reader's room: a dot with its interval for every device, the reader's own as an upright line with its
// band, and the reader's measurement. Told apart by colour and place: under which heading a row stands says the same.
import { decibels } from "./rounding.mjs"

const NAMESPACE = "http://www.w3.org/2000/svg"
const TICK = 4 // half an interval's end
const BOUND = "M9,0h10m-4,-4l4,4l-4,4" // at least so much: an arrow to more

// shapes: of room_shapes.mjs; mark: {text, at, ends} of the reader's own device or null; spoken: what it says, in words.
export function roomPicture(shapes, { width, root, mark, spoken, measured, measure }) {
  const { wide, size, left, right, frame, height } = shapes
  const line = (d, name) => draw("path", { d, class: name })
  const text = (x, y, name, words, anchor = "start") => draw("text", { x, y, class: name, "text-anchor": anchor }, words)
  const across = shapes.across.flatMap(({ x, text: words }, i) => [
    line(`M${x},${frame.top}V${frame.foot}`, i ? "grid" : "axis"),
    wide && i % 2 ? "" : text(x, frame.foot + 19, "soft", words, i === 0 && !wide ? "start" : i === shapes.across.length - 1 && !wide ? "end" : "middle"),
  ])
  const own = mark === null ? [] : [
    ...(mark.ends ? [draw("rect", { x: mark.ends[0], y: frame.top, width: Math.max(mark.ends[1] - mark.ends[0], 1), height: frame.foot - frame.top, class: "own-band" })] : []),
  ]
  const above = mark === null ? [] : [line(`M${mark.at},${frame.top - 6}V${frame.foot}`, "own-line"), text(mark.label, frame.top - 12, "strong", mark.text)]
  const heads = wide ? [text(width - size.value, frame.top - 12, "soft", "Mbit/s", "end"), ...(mark === null ? [] : [text(width - size.words, frame.top - 12, "soft", "beside yours")])] : []
  return draw("svg", { class: "room-picture", width, height, viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": spoken },
    ...own, ...across.filter(Boolean), ...above, ...heads,
    ...(shapes.own === null ? [] : [line(`M${shapes.own},${frame.top}V${frame.foot + 4}`, "measured"), text(Math.min(Math.max(shapes.own, 80), width - 80), frame.foot + 38, "strong", measured, "middle")]),
    ...shapes.headings.flatMap(({ title, y, rule }) => [text(0, y, "strong halo", title), line(`M0,${rule}H${width}`, "axis")]),
    ...shapes.drawn.map(one => rowDrawn(one, { width, wide, size, root, line, text, own: mark !== null, measure })),
  )
}

function rowDrawn({ row, kind, nowhere, name, figure, label, dot, rule, at, span, ends, hollow, bound }, { width, wide, size, root, line, text, own, measure }) {
  const series = kind === "more" || kind === "less" ? "apart" : "alike"
  const [square, { words, likely }] = [row.beside.kind === "subject", row.beside]
  const link = draw("a", { href: root + row.href }, draw("text", { x: 0, y: label, class: "halo" }, ...named(name, row)))
  const marks = draw("g", { class: square ? "subject" : series },
    ...(ends ? [line(`M${ends[0]},${dot}H${ends[1]}M${ends[0]},${dot - TICK}v${2 * TICK}M${ends[1]},${dot - TICK}v${2 * TICK}`, "whisker")] : []),
    ...(span ? [line(`M${span[0]},${dot}H${span[1]}`, "span")] : []),
    draw(square ? "rect" : "circle", { ...(square ? { x: at - 5, y: dot - 5, width: 10, height: 10 } : { cx: at, cy: dot, r: 5 }), class: hollow ? "dot hollow" : "dot" }),
    ...(bound ? [draw("path", { class: "whisker", d: BOUND, transform: `translate(${at},${dot})` })] : []),
  )
  const away = hollow && !nowhere ? `nearest: ${decibels(row.near.db)} dB` : ""
  const left = (ends ?? span ?? [at])[0] > measure(words) + 8 // room for the words before the dot
  const range = measure(`${words} likely ${likely}`) < size.words ? `likely ${likely}` : likely
  const beside = wide
    ? [text(width - size.words, label, square || likely ? "strong" : "soft", square ? (own ? "yours" : "") : away || words), text(width, label, "soft", away ? "" : likely && range, "end")]
    : [text(left ? 0 : width, dot + 5, "strong halo", kind === "more" || kind === "less" ? words : "", left ? "start" : "end")]
  return draw("g", { "data-row": row.id }, line(`M0,${rule}H${width}`, "grid"), marks, link, text(wide ? width - size.value : width, label, "strong halo", figure, "end"), ...beside.filter(part => part.textContent))
}

// Maker plain and model bold, where the name is whole.
function named(name, { maker, model }) {
  if (name !== `${maker} ${model}`) return [draw("tspan", { class: "strong" }, name)]
  return [`${maker} `, draw("tspan", { class: "strong" }, model)]
}

// text -> how wide it is in bold, in the reader's own face; the box is drawn into afterwards. [px]
export function measuredIn(box) {
  const word = draw("text", { class: "strong" })
  box.replaceChildren(draw("svg", { class: "room-picture", width: 0, height: 0 }, word))
  return text => {
    word.textContent = text
    return word.getComputedTextLength()
  }
}

function draw(tag, attributes, ...children) {
  const element = document.createElementNS(NAMESPACE, tag)
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value)
  element.append(...children)
  return element
}
