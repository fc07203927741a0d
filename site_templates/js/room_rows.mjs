// What every device gives at a reader's place: rows of text and numbers, made of a room's data
// (builder/publishing/files/room_data.py). Beyond what was tested, the nearest tested place answers.
import { SAME_DB, lineSpan, lineValue, stretches } from "./line_values.mjs"
import { decibelRange, decibels, decimal, rate, rateDecimals } from "./rounding.mjs"

const ALMOST_ALL = 0.9

// {id, label, ..., stretches, value, text, least, most, low, high, interval, covered} where it was tested; else value is null and
// near is {value, db, away, where, text, interval}. covered: the losses that were tested, where they are not the whole place.
export function roomRow(device, place) {
  const { line, means, ...head } = device
  const row = { ...head, stretches: stretches(line), ...(meanOver(device, place) ?? atLosses(line, place) ?? { value: null }) }
  if (row.value === null) return { ...row, near: nearest(device, place) }
  return { ...row, ...inWords(row, device) }
}

function meanOver({ means }, { window }) {
  const mean = means[window]
  if (!mean) return null
  const [value, half, bound, port, best] = mean
  return { value, best, least: value, most: value, bound: Boolean(bound), port: Boolean(port), ...intervalOf(value, value, half, half) }
}

function atLosses(line, { low, high }) {
  const tested = stretches(line).map(([from, to]) => [Math.max(from, low), Math.min(to, high)]).filter(([from, to]) => from <= to + SAME_DB)
  const spans = tested.map(([from, to]) => (from < to ? lineSpan(line, from, to) : pointSpan(line, from))).filter(Boolean)
  if (!spans.length) return null
  const least = spans.map(span => span.least).reduce((a, b) => (b.value < a.value ? b : a))
  const most = spans.map(span => span.most).reduce((a, b) => (b.value > a.value ? b : a))
  const whole = tested.length === 1 && tested[0][1] - tested[0][0] >= high - low - SAME_DB
  return {
    value: (least.value + most.value) / 2, least: least.value, most: most.value,
    bound: spans.some(span => span.bound), port: spans.some(span => span.port), covered: whole ? null : tested,
    ...intervalOf(least.value, most.value, least.half, most.half),
  }
}

function pointSpan(line, x) {
  const at = lineValue(line, x)
  return at && { least: at, most: at, bound: at.bound, port: at.port }
}

function intervalOf(least, most, halfBelow, halfAbove) {
  return halfBelow === null || halfAbove === null ? {} : { low: least - halfBelow, high: most + halfAbove }
}

function inWords({ least, most, low, high, bound, port, covered }, { held }) {
  const places = rateDecimals(least)
  const range = decimal(least, places) === decimal(most, places) || bound ? rate(least, { bound }) : `${decimal(least, places)}–${decimal(most, places)}`
  const known = low === undefined ? (bound ? "held back by the client or the lab" : "no spread is known") : `${decimal(low, places)}–${decimal(high, places)}`
  const remarks = [port ? held : "", covered ? `tested at ${covered.map(span => decibelRange(...span)).join(" and ")} dB of it` : ""]
  return { text: range, interval: known, remark: remarks.filter(Boolean).join("; ") }
}

// The tested place that is nearest to the reader's, and what the device gave there.
function nearest(device, { low, high }) {
  const away = x => (x < low ? low - x : x - high)
  const db = device.line.x.reduce((a, b) => (away(b) < away(a) ? b : a))
  const at = lineValue(device.line, db)
  const words = inWords({ ...at, least: at.value, most: at.value, ...intervalOf(at.value, at.value, at.half, at.half) }, device)
  return { ...words, ...intervalOf(at.value, at.value, at.half, at.half), value: at.value, db, away: away(db), where: `${decibels(away(db))} dB ${db < low ? "nearer" : "farther off"}, at ${decibels(db)} dB` }
}

// The one that gives most, of those tested over about as much of the place as any.
export function leadingRow(rows) {
  const length = ({ covered }) => (covered ?? [[0, Infinity]]).reduce((sum, [from, to]) => sum + to - from, 0)
  const longest = Math.max(...rows.filter(row => row.value !== null).map(length))
  return rows.find(row => row.value !== null && length(row) >= ALMOST_ALL * longest) ?? rows[0]
}

// Rows in order: the highest value first, those without one last, the nearest to the place first.
export function ordered(rows) {
  const sort = row => row.value ?? -1 - row.near.away
  return [...rows].sort((a, b) => sort(b) - sort(a) || (a.label < b.label ? -1 : 1))
}
