// Where everything lies in the picture of the reader's room: numbers, no drawing. Wide: names left, figures right. Narrow:
// a name above each dot. Heights grow with the reader's letters, columns are as wide as what stands in them. [px]
import { besideWords } from "./room_beside.mjs"
import { fittingNames } from "./room_names.mjs"
import { decibels } from "./rounding.mjs"

const WIDE_FROM = 600
const USUAL_LETTERS = 14
const WIDE = { row: 34, name: 22, dot: 17, top: 36 }
const NARROW = { row: 46, name: 18, dot: 34, top: 42 }
const EVERY = { first: 24, heading: 38, above: 12, under: 7, axis: 26, foot: 19, measured: 38, own: 18 }
const BETWEEN = 12
const MOST_NAME = 0.4 // of the width

// groups: of room_groups.mjs; own: the reader's measurement or undefined; measure: text -> how wide it is drawn; letters:
// their size; marked: whether the reader's own device is named above. Gives what room_picture.mjs draws.
export function roomShapes(groups, own, { width, measure, letters = USUAL_LETTERS, marked = true }) {
  const wide = width >= WIDE_FROM
  const size = scaled({ ...EVERY, ...(wide ? WIDE : NARROW) }, letters / USUAL_LETTERS)
  const rows = groups.flatMap(group => group.rows)
  const nowhere = rows.every(row => row.value === null)
  const figures = rows.map(row => figureText(row, nowhere, wide))
  const [names, words] = [rows.map(row => `${row.maker} ${row.model}`), rows.map(row => wordsBeside(row, nowhere, wide))]
  const widest = texts => Math.max(0, ...texts.map(measure))
  const beside = widest(words.map(({ about, likely }) => (likely ? `${about} – ${likely}` : about)))
  const left = wide ? Math.min(widest(names) + BETWEEN, MOST_NAME * width) : 0
  const columns = { words: width - beside, value: width - beside - BETWEEN }
  const right = wide ? columns.value - widest([...figures, "Mbit/s"]) - BETWEEN : width - 1
  const short = fittingNames(names, wide ? left - 4 : width - BETWEEN - widest(figures), measure)
  const marks = ticks(Math.max(own ?? 0, ...rows.map(highest)))
  const x = rate => left + (Math.min(Math.max(rate, 0), marks.at(-1)) / marks.at(-1)) * (right - left)
  const top = wide || marked ? size.top : 0
  let y = top
  const headings = []
  const drawn = groups.flatMap(({ kind, title, rows: members }, i) => {
    y += i ? size.heading : size.first
    const heading = { title, y: y - size.under, rule: y, foot: y + members.length * size.row }
    headings.push(heading)
    return members.map(row => {
      const [top, n] = [y, rows.indexOf(row)]
      y += size.row
      return { row, kind, name: short[n], figure: figures[n], words: words[n], top, label: top + size.name, dot: top + size.dot, rule: y, ...places(row, x) }
    })
  })
  const height = y + size.axis + (own === undefined ? 0 : size.own)
  const across = spaced(marks.map(rate => ({ x: x(rate), text: String(rate) })), measure)
  return { wide, size, columns, left, right, drawn, headings, across, own: own === undefined ? null : x(own), frame: { top, foot: y }, height }
}

function scaled(size, by) {
  return Object.fromEntries(Object.entries(size).map(([name, value]) => [name, value * by]))
}

// What of a row is drawn: its own values, or those of the nearest tested place, hollow.
function places(row, x) {
  const of = row.value === null ? { least: row.near.value, most: row.near.value, ...row.near } : row
  const span = of.most > of.least ? [x(of.least), x(of.most)] : null
  return { at: x(of.value), span, ends: of.low === undefined ? null : [x(of.low), x(of.high)], hollow: row.value === null, bound: of.text.startsWith("≥") }
}

// Every line across has its number: where they would meet, every other line is left out with it.
function spaced(lines, measure) {
  const meet = lines.some(({ x, text }, i) => i && x - lines[i - 1].x < measure(text) + BETWEEN / 2)
  return meet && lines.length > 2 ? spaced(lines.filter((_, i) => i % 2 === 0), measure) : lines
}

// What it gives; at which place, where that is not the reader's.
function figureText(row, nowhere, wide) {
  if (row.value !== null) return wide ? row.text : `${row.text} Mbit/s`
  return nowhere || !wide ? `${row.near.text} at ${decibels(row.near.db)} dB` : row.near.text
}

function wordsBeside({ value, near, beside }, nowhere, wide) {
  if (value === null && !nowhere) return { about: `nearest: ${decibels(near.db)} dB`, likely: "" }
  return { about: besideWords(beside, wide ? beside.over : "over all"), likely: beside.likely && `likely ${beside.likely}` }
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
