// What every device gives at a reader's loss: rows of text, made of a room's data (builder/publishing/files/room_data.py).
import { lineSpan, lineValue, stretches } from "./line_values.mjs"
import { decibelRange, decimal, listing, rate, rateDecimals } from "./rounding.mjs"

// The loss a reader's level means; with another adapter all losses within the band.
export function lossOfLevel(eirp, level, otherAdapterDb = 0) {
  return [eirp - level - otherAdapterDb, eirp - level + otherAdapterDb]
}

function notTested(line, [low, high]) {
  const tested = listing(stretches(line).map(ends => decibelRange(...ends)))
  const partly = low < high && stretches(line).some(([start, end]) => start <= high && low <= end)
  return `${partly ? "not tested over all of it" : "not tested there"} (${tested} dB)`
}

// {name, href, text, interval, sort, low, high}; sort is null where there is no value.
export function roomRow(device, losses) {
  const [low, high] = losses
  const head = { name: device.name, href: device.href, firmware: device.firmware }
  if (low === high) {
    const found = lineValue(device.line, low)
    if (!found) return { ...head, text: notTested(device.line, losses), interval: "", sort: null }
    const ends = found.half === null ? null : [found.value - found.half, found.value + found.half]
    return { ...head, ...ended(device, ends, rateDecimals(found.value), found), text: rate(found.value, found), sort: found.value }
  }
  const span = lineSpan(device.line, low, high)
  if (!span) return { ...head, text: notTested(device.line, losses), interval: "", sort: null }
  const { least, most } = span
  const places = rateDecimals(least.value)
  const text = span.bound
    ? `at least ${decimal(least.value, places)}`
    : `between ${decimal(least.value, places)} and ${decimal(most.value, places)}`
  const known = least.half !== null && most.half !== null
  const ends = known ? [least.value - least.half, most.value + most.half] : null
  return { ...head, ...ended(device, ends, places, span), text, sort: (least.value + most.value) / 2 }
}

function ended(device, ends, places, { bound, port }) {
  const held = port ? `; ${device.held}` : ""
  if (!ends) return { interval: (bound ? "held back by the client or the lab" : "no interval: no spread is known") + held }
  return { interval: `${decimal(ends[0], places)} to ${decimal(ends[1], places)}${held}`, low: ends[0], high: ends[1] }
}

// Where a reader's own speed stands beside a row.
export function besideOwn(row, own) {
  if (row.sort === null) return ""
  if (row.low === undefined) return own < row.sort ? "yours is less" : ""
  if (own < row.low) return "yours is less"
  return own > row.high ? "yours is more" : "yours is within it"
}

// Rows in order: the highest value first, those without one last and by name.
export function ordered(rows) {
  return [...rows].sort((a, b) => {
    if ((a.sort === null) !== (b.sort === null)) return a.sort === null ? 1 : -1
    return a.sort === null || a.sort === b.sort ? (a.name < b.name ? -1 : 1) : b.sort - a.sort
  })
}
