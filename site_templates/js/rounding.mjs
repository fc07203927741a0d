// Numbers as text, rounded as the pages round them: half away from zero, of the number's shortest text.

export const MINUS = "\u2212"

export function decimal(value, places, { signed = false } = {}) {
  // Moving the point inside of the text rounds what is written, not its nearest binary neighbour.
  const size = Math.abs(value)
  const moved = String(size).includes("e") ? size : Number(Math.round(Number(`${size}e${places}`)) + `e-${places}`)
  const text = moved.toFixed(places)
  if (Number(text) === 0) return text
  return (value < 0 ? MINUS : signed ? "+" : "") + text
}

// The two ends of a range as they are printed: with "to" where one may carry a sign.
export function ends(low, high) {
  return /^[+\u2212]/.test(low) || /^[+\u2212]/.test(high) ? `${low} to ${high}` : `${low}–${high}`
}

// A text in which no line ends inside "47 Mbit/s", "≥ 925" or "n = 24": the same as `unbroken` of builder/wording.py.
const INSIDE_A_FIGURE = / (?<=[\d≥=] )(?=(?:[kMG]bit\/s|[kKMG]i?B(?:\/s)?|dBm?|[kMG]Hz|%|ms|s|min|minutes?|h|hours?|m|W|K|°C|(?!UTC)[A-Z]{3})(?![\p{L}\p{N}_])|(?<=[≥=] )\d)/gu

export function unbroken(text) {
  return text.replace(INSIDE_A_FIGURE, "\u00a0")
}

export function rateDecimals(...values) {
  return Math.min(...values.map(Math.abs)) >= 100 ? 0 : 1
}

export function rate(value, { bound = false } = {}) {
  return (bound ? "≥ " : "") + decimal(value, rateDecimals(value))
}

export function trimmed(value, places) {
  const text = decimal(value, places)
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text
}

export function decibels(value) {
  return trimmed(value, 1)
}

export function decibelRange(low, high) {
  const [first, last] = [decibels(low), decibels(high)]
  return first === last ? first : `${first}–${last}`
}

export function listing(items) {
  return items.length < 2 ? items.join("") : `${items.slice(0, -1).join(", ")} and ${items.at(-1)}`
}
