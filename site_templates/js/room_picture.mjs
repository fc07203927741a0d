// The picture of the reader's room: a dot with its interval for every device, the reader's own as an upright line with its
// band, and the reader's measurement. Told apart by colour and place: under which heading a row stands says the same.
import { svgLine, svgPart, svgText } from "./drawing_parts.mjs"

const TICK = 8 // half an interval's end: it reaches out of a dot that is wider than the interval
const BOUND = "M9,0h10m-4,-4l4,4l-4,4" // at least so much: an arrow to more

// shapes: of room_shapes.mjs; mark: {text, label, at, ends} of the reader's own device or null; spoken: what it says, in words.
export function roomPicture(shapes, { width, root, mark, spoken, measured, measure }) {
  const { wide, size, columns, frame, height } = shapes
  const { top, foot } = frame
  const last = shapes.across.length - 1
  const down = x => shapes.headings.map(({ rule, foot: end }) => `M${x},${rule}V${end}`).join("") // no line crosses a heading
  const across = shapes.across.flatMap(({ x, text }, i) => [
    svgLine(down(x), i ? "grid" : "axis"),
    svgText(x, foot + size.foot, "soft", text, wide ? "middle" : i === 0 ? "start" : i === last ? "end" : "middle"),
  ])
  const band = mark?.ends ? shapes.headings.map(({ rule, foot: end }) => svgPart("rect", { x: mark.ends[0], y: rule, width: Math.max(mark.ends[1] - mark.ends[0], 1), height: end - rule, class: "own-band" })) : []
  const yours = mark ? [svgLine(`M${mark.at},${top - size.under}V${top}${down(mark.at)}`, "own-line"), svgText(mark.label, top - size.above, "strong", mark.text)] : []
  const heads = wide ? [svgText(columns.value, top - size.above, "soft", "Mbit/s", "end"), ...(mark ? [svgText(columns.words, top - size.above, "soft", "beside yours")] : [])] : []
  const half = measure(measured) / 2
  const own = shapes.own === null ? [] : [svgLine(`${down(shapes.own)}M${shapes.own},${foot}v4`, "measured"), svgText(Math.min(Math.max(shapes.own, half), width - half), foot + size.measured, "strong", measured, "middle")]
  return svgPart("svg", { class: "room-picture", width, height, viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": spoken },
    ...band, ...across, ...yours, ...heads, ...own,
    ...shapes.headings.flatMap(({ title, y, rule }) => [svgText(0, y, "strong halo", title), svgLine(`M0,${rule}H${width}`, "axis")]),
    ...shapes.drawn.map(row => drawnRow(row, { width, wide, columns, root, measure, yours: Boolean(mark) })),
  )
}

function drawnRow({ row, kind, name, figure, words: { about, likely }, top, label, dot, rule, ...marks }, { width, wide, columns, root, measure, yours }) {
  const own = row.beside.kind === "subject"
  const target = svgPart("rect", { x: 0, y: top, width: wide ? measure(name) : width, height: rule - top, class: "target" })
  const link = svgPart("a", { href: root + row.href }, target, svgPart("text", { x: 0, y: label, class: "halo" }, ...named(name, row)))
  const told = kind === "more" || kind === "less"
  const before = (marks.ends ?? marks.span ?? [marks.at])[0] > measure(about) + 8 // room for the words before the dot
  const beside = wide
    ? [svgText(columns.words, label, own || likely ? "strong" : "soft", own ? (yours ? "yours" : "") : about), svgText(width, label, "soft", likely, "end")]
    : [svgText(before ? 0 : width, dot + 5, "strong halo", told ? about : "", before ? "start" : "end")]
  return svgPart("g", {}, svgLine(`M0,${rule}H${width}`, "grid"), marksOf(marks, dot, own, own ? "subject" : told ? "apart" : "alike"), link,
    svgText(wide ? columns.value : width, label, "strong halo", figure, "end"), ...beside.filter(part => part.textContent))
}

function marksOf({ at, span, ends, hollow, bound }, dot, own, name) {
  const shape = own ? { x: at - 5, y: dot - 5, width: 10, height: 10 } : { cx: at, cy: dot, r: 5 }
  return svgPart("g", { class: name },
    ...(ends ? [svgLine(`M${ends[0]},${dot}H${ends[1]}M${ends[0]},${dot - TICK}v${2 * TICK}M${ends[1]},${dot - TICK}v${2 * TICK}`, "whisker")] : []),
    ...(span ? [svgLine(`M${span[0]},${dot}H${span[1]}`, "span")] : []),
    svgPart(own ? "rect" : "circle", { ...shape, class: hollow ? "dot hollow" : "dot" }),
    ...(bound ? [svgPart("path", { class: "whisker", d: BOUND, transform: `translate(${at},${dot})` })] : []),
  )
}

// Maker plain and model bold, where the name is whole.
function named(name, { maker, model }) {
  if (name !== `${maker} ${model}`) return [svgPart("tspan", { class: "strong" }, name)]
  return [`${maker} `, svgPart("tspan", { class: "strong" }, model)]
}
