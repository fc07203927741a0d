// Where everything lies in the picture of the reader's room: numbers, no drawing. Wide: names left, figures right. Narrow:
// a name above each dot. [px]
import { fittingNames } from "./room_names.mjs"
import { decibels } from "./rounding.mjs"

const WIDE_FROM = 600
const WIDE = { left: 176, value: 196, words: 180, row: 34, name: 22, dot: 17, top: 36, heading: 24, gap: 38, text: 15 }
const NARROW = { left: 0, value: 0, words: 0, row: 46, name: 18, dot: 34, top: 42, heading: 24, gap: 38, text: 14 }
const AXIS = 26
const BETWEEN = 12

// groups: of room_groups.mjs; own: the reader's measurement or undefined; measure: text -> how wide it is drawn.
export function roomShapes(groups, own, { width, measure }) {
  const wide = width >= WIDE_FROM
  const size = wide ? WIDE : NARROW
  const rows = groups.flatMap(group => group.rows)
  const nowhere = rows.every(row => row.value === null)
  const figures = rows.map(row => (wide ? figureText(row, nowhere) : `${figureText(row, true)}${row.value === null ? "" : " Mbit/s"}`))
  const widest = Math.max(...figures.map(measure))
  const [left, right] = [size.left, wide ? width - size.value - widest - BETWEEN : width - 1]
  const marks = ticks(Math.max(own ?? 0, ...rows.map(highest)))
  const x = rate => left + (Math.min(Math.max(rate, 0), marks.at(-1)) / marks.at(-1)) * (right - left)
  const room = wide ? left - 8 : width - BETWEEN - widest
  const names = fittingNames(rows.map(row => `${row.maker} ${row.model}`), room, measure)
  let y = size.top
  const headings = []
  const drawn = groups.flatMap(({ kind, title, rows: members }, i) => {
    y += i ? size.gap : size.heading
    headings.push({ title, y: y - 7, rule: y })
    return members.map(row => {
      const [top] = [y, (y += size.row)]
      return { row, kind, nowhere, name: names[rows.indexOf(row)], figure: figures[rows.indexOf(row)], label: top + size.name, dot: top + size.dot, rule: y, ...places(row, x) }
    })
  })
  return {
    wide, size, drawn, headings, left, right, own: own === undefined ? null : x(own),
    across: marks.map(rate => ({ x: x(rate), text: String(rate) })),
    frame: { top: size.top, foot: y }, height: y + AXIS + (own === undefined ? 0 : 18),
  }
}

// What of a row is drawn: its own values, or those of the nearest tested place, hollow.
function places(row, x) {
  const of = row.value === null ? { least: row.near.value, most: row.near.value, ...row.near } : row
  const span = of.most > of.least ? [x(of.least), x(of.most)] : null
  return { at: x(of.value), span, ends: of.low === undefined ? null : [x(of.low), x(of.high)], hollow: row.value === null, bound: of.text.startsWith("≥") }
}

// What it gives; at which place, where that is not the reader's.
function figureText(row, placed) {
  if (row.value !== null) return row.text
  return placed ? `${row.near.text} at ${decibels(row.near.db)} dB` : row.near.text
}

function highest(row) {
  const of = row.value === null ? row.near : row
  return of.high ?? of.most ?? of.value
}

// 0 and even steps up to above the highest value.
export function ticks(highestValue) {
  const rough = Math.max(highestValue, 1) / 4
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = [1, 2, 2.5, 5, 10].map(n => n * power).find(n => n >= rough)
  return Array.from({ length: Math.ceil(highestValue / step) + 1 }, (_, i) => Number((i * step).toPrecision(6)))
}
