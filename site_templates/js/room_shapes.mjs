// Where the lines of a few devices lie in a picture, with the reader's own place and speed: numbers, no drawing.
import { stretches } from "./line_values.mjs"
import { fittingNames } from "./room_names.mjs"
import { decibels } from "./rounding.mjs"

export const MOST_LINES = 6
const ABOVE = 28
const BELOW = 40
const BESIDE = 44
const LEAST_LABELS = 124 // room for the names of lines, on a phone; elsewhere a part of the width
const LABELS = 0.3
const MARK = 26 // before a name, and the edge behind it
const BETWEEN_LABELS = 16

// The devices to draw: those that were tested there, the nearest to the reader's own speed or else the first.
export function drawnRows(rows, own) {
  const there = rows.filter(row => row.sort !== null)
  const near = own === undefined ? there : [...there].sort((a, b) => Math.abs(a.sort - own) - Math.abs(b.sort - own))
  const chosen = new Set(near.slice(0, MOST_LINES))
  return there.filter(row => chosen.has(row))
}

// lines: [{name, line}]; losses: [low, high] of the reader's place; own: the reader's speed or undefined;
// measure: text -> how wide it is drawn. [px]
export function roomShapes(lines, losses, own, { width, height, measure }) {
  const xs = [...losses, ...lines.flatMap(({ line }) => line.x)]
  const ys = [own ?? 0, ...lines.flatMap(({ line }) => line.y)]
  const names = fittingNames(lines.map(({ name }) => name), Math.max(LEAST_LABELS, width * LABELS) - MARK, measure)
  const room = MARK + Math.ceil(Math.max(...names.map(measure)))
  const [left, right, foot] = [BESIDE, width - room, height - BELOW]
  const [least, most] = [Math.min(...xs), Math.max(...xs)]
  const marks = ticks(Math.max(...ys))
  const x = loss => left + ((loss - least) / (most - least || 1)) * (right - left)
  const y = rate => foot - (rate / marks.at(-1)) * (foot - ABOVE)
  const drawn = lines.map(({ line }) => ({
    points: line.x.map((loss, i) => ({ x: x(loss), y: y(line.y[i]), bound: Boolean(line.bound[i]) })),
    pieces: stretches(line).map(([from, to]) => line.x.flatMap((loss, i) => (loss < from || loss > to ? [] : [[x(loss), y(line.y[i])]]))),
  }))
  const ends = drawn.map(line => line.points.at(-1).y)
  return {
    lines: drawn.map((line, i) => ({ ...line, label: { x: right + 12, y: apart(ends, ABOVE, foot)[i], text: names[i] } })),
    across: ticks(most).length > 1 ? lossTicks(least, most).map(loss => ({ x: x(loss), text: decibels(loss) })) : [],
    up: marks.map(rate => ({ y: y(rate), text: String(rate) })),
    place: { x: x(losses[0]), width: x(losses[1]) - x(losses[0]) },
    own: own === undefined ? null : y(own),
    frame: { left, right, top: ABOVE, foot },
  }
}

// 0 and even steps up to above the highest value.
export function ticks(highest) {
  const rough = Math.max(highest, 1) / 4
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = [1, 2, 5, 10].map(n => n * power).find(n => n >= rough)
  return Array.from({ length: Math.ceil(highest / step) + 1 }, (_, i) => Number((i * step).toPrecision(6)))
}

function lossTicks(least, most) {
  const first = Math.ceil(least / 10) * 10
  return Array.from({ length: Math.max(0, Math.floor((most - first) / 10) + 1) }, (_, i) => first + i * 10)
}

// Labels moved down where they would stand on each other, and up again where they would leave the frame.
export function apart(wanted, top, foot) {
  const order = wanted.map((_, i) => i).sort((a, b) => wanted[a] - wanted[b])
  const placed = [...wanted]
  order.forEach((i, n) => { placed[i] = Math.max(placed[i], n ? placed[order[n - 1]] + BETWEEN_LABELS : top) })
  const over = placed[order.at(-1)] - foot
  order.reverse().forEach((i, n) => { if (over > 0) placed[i] = Math.min(placed[i], n ? placed[order[n - 1]] - BETWEEN_LABELS : foot) })
  return placed
}
