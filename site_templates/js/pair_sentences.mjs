// What is said of a pair, out of the columns the build wrote (builder/publishing/files/pair_data.py) and the sentences with
// slots that its pages fill, too (builder/pairs/sentences.py). Figures arrive rounded: here they become text.
import { CHANCE } from "./pair_verdicts.mjs"
import { decimal, ends, trimmed } from "./rounding.mjs"

const WITH_P = ["separated", "not-separated", "at-least"]
const LEADS = ["separated", "at-least"]

// Everything said of two devices, a the one whose id comes first: { a, b, page, figures, overview, level, spots }, the
// figure that leads first.
export function pairOf(part, words, a, b) {
  const place = id => part.devices.findIndex(device => device[0] === id)
  const [one, other] = [place(a), place(b)]
  const pair = part.a.findIndex((first, i) => first === one && part.b[i] === other)
  const said = part.blocks.flatMap((block, number) => {
    const row = block.of ? block.of.indexOf(pair) : pair
    return row < 0 ? [] : [{ match: block.match, leads: number === part.lead[pair], figure: figureOf(part, words, block, row, pair) }]
  })
  const of = match => said.filter(entry => entry.match === match)
  const figures = of("attenuation").sort((x, y) => y.leads - x.leads).map(entry => entry.figure)
  const level = of("level").map(entry => entry.figure.sentence)
  const spots = of("spot").map(({ figure: { group, sentence } }) => ({ group, sentence }))
  const first = overviewOf(words, namesOf(part.devices[one], part.devices[other]), figures)
  return { a, b, page: part.pages[pair] ?? "", figures, overview: first, level, spots }
}

// What one group says of two devices in the same place, as numbers; null where it has nothing. Of many pairs only a refusal
// is put into words, for it has nothing else.
export function figureIn(part, words, a, b, group) {
  const place = id => part.devices.findIndex(device => device[0] === id)
  const [one, other] = [place(a), place(b)]
  const pair = part.a.findIndex((first, i) => first === one && part.b[i] === other)
  const block = part.blocks.find(block => block.match === "attenuation" && block.group === group)
  const row = block?.of ? block.of.indexOf(pair) : pair
  if (!block || row < 0) return null
  const code = block.code[row]
  const { verdict } = words.sentences[code >> 5]
  if (verdict === "refused") return { verdict, sentence: figureOf(part, words, block, row, pair).sentence }
  const figures = figuresOf(block, row)
  const numbers = [0, 1, 2, 3].map(i => (figures[i] ?? 0) / (code & 1 ? 10 : 1))
  return { verdict, numbers, decimals: code & 1, leads: LEADS.includes(verdict) ? (code & 2 ? "b" : "a") : undefined }
}

// The second to fourth are written as how far they are from where they usually lie (pair_data.py, _from_the_first).
function figuresOf(block, row) {
  const [value, half, third, fourth, ...others] = block.figures.map(column => column[row])
  const figures = [value, value - half, third + value + half, fourth + half, ...others]
  return figures.slice(0, block.figures.length)
}

// In how many groups which of the two gives more, beside the first (pairs/sentences.py: overview).
function overviewOf({ overview, counts }, [a, b], figures) {
  const leads = figures.filter(figure => figure.verdict !== "refused").map(figure => figure.leads ?? "")
  if (leads.length < 2) return ""
  const kinds = [...new Set([leads[0], "b", "a", ""])].filter(kind => leads.includes(kind))
  const clause = (name, kind) => {
    const count = leads.filter(lead => lead === kind).length
    const what = kind ? filled(overview.more, { one: kind === "a" ? a : b }) : overview.untold
    return filled(overview[name], { count, words: counts[count] ?? count, all: leads.length, what })
  }
  if (kinds.length === 1) return clause(leads.length === 2 ? "both" : "all", kinds[0])
  const parts = kinds.map((kind, i) => clause(i === 0 ? "first" : i === kinds.length - 1 ? "last" : "next", kind))
  return `${parts.join("; ")}.`
}

function figureOf(part, words, block, row, pair) {
  const code = block.code[row]
  const template = words.sentences[code >> 5]
  const slots = slotsOf(part, words, block, row, pair)
  const port = words.sentences[words.port].text
  const remarks = [
    code & 8 ? filled(port, { one: slots.a, speed: part.devices[part.a[pair]][3] }) : "",
    code & 16 ? filled(port, { one: slots.b, speed: part.devices[part.b[pair]][3] }) : "",
    code & 4 ? filled(words.sentences[words.channels].text, slots) : "",
  ]
  const figure = { group: block.group, verdict: template.verdict, sentence: filled(template.text, slots) + remarks.join("") }
  // Of p only counts how many comparisons it may be judged among; any p between two such bounds says the same.
  if (WITH_P.includes(template.verdict) && block.passes) figure.p = CHANCE / (block.passes[row] + 0.5)
  if (LEADS.includes(template.verdict)) figure.leads = code & 2 ? "b" : "a"
  return figure
}

function slotsOf(part, words, block, row, pair) {
  const code = block.code[row]
  const [i, j] = [part.a[pair], part.b[pair]]
  const [a, b] = namesOf(part.devices[i], part.devices[j])
  const { place, where, unit, to } = words[block.match]
  const spot = { spot: block.spot }
  const slots = { a, b, one: code & 2 ? b : a, other: code & 2 ? a : b, unit, place: filled(place, spot), where: filled(where, spot), ...spot }
  for (const [name, place] of [["a", i], ["b", j]]) {
    if (block.tested?.[place]) slots[`tested_${name}`] = range(block.tested[place], to)
    slots[`channels_${name}`] = block.channels?.[place]
    slots[`of_${name}`] = block.with?.[place]
  }
  const figures = figuresOf(block, row)
  for (const [slot, kind] of words.sentences[code >> 5].figures) {
    const [first = 0, second = 0] = figures
    const twoEnds = ["range", "interval", "either way"].includes(kind)
    figures.splice(0, twoEnds ? 2 : 1)
    if (kind === "range") slots[slot] = range([first, second], to)
    else if (kind === "either way") slots[slot] = eitherWay(code & 2 ? [-second, -first] : [first, second], code & 1)
    else slots[slot] = printed(twoEnds ? [first, second] : [first], kind, code & 1)
  }
  return slots
}

// As `either_way` of builder/pairs/sentences.py.
function eitherWay([low, high], decimals) {
  const [behind, none, ahead] = [-low, 0, high].map(one => decimal(decimals ? one / 10 : one, decimals))
  return behind === none ? `${none}–${ahead} ahead` : `${behind} behind to ${ahead} ahead`
}

function printed(units, kind, decimals) {
  const signed = kind.startsWith("signed")
  if (kind === "lead") return decimal(Math.abs(decimals ? units[0] / 10 : units[0]), decimals)
  if (kind === "percent") return decimal(units[0] / 10, 1)
  if (kind === "decibels") return trimmed(units[0] / 10, 1)
  const [low, high] = units.map(one => decimal(decimals ? one / 10 : one, decimals, { signed }))
  return high === undefined ? low : ends(low, high)
}

function range(tenths, to) {
  const [first, last] = tenths.map(end => trimmed(end / 10, 1))
  return first === last ? first : first + to + last
}

// Short names that tell the two apart: models, or with the maker where the models are called the same.
function namesOf(a, b) {
  return a[1] === b[1] ? [a[2], b[2]] : [a[1], b[1]]
}

function filled(text, slots) {
  return text.replace(/\{(\w+)\}/g, (_, slot) => slots[slot])
}
