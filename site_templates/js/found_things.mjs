// What can be found by its name or size, put together from the compact data of builder/publishing/files/search_index.py.

import { anyBegins, search, searchWords } from "./matching.mjs"

// What stands first among things that fit alike.
const KIND_ORDER = ["page", "list", "term", "feature", "part", "device", "review", "correction", "withdrawn", "dispute"]

const kindOrder = kind => (KIND_ORDER.includes(kind) ? KIND_ORDER.indexOf(kind) : KIND_ORDER.length)

// data: {entries, devices, shared, parts, pairs}; articles: entries. Gives [{kind, href, title, line, names, short}], in the
// order in which things that fit alike are shown.
export function everything(data, articles) {
  const plain = [...data.entries, ...articles].map(([kind, href, title, line, others]) => ({
    kind, href, title, line, names: [[title, ""], ...others],
  }))
  const known = devicesOf(data)
  const devices = known.map(({ href, title, called, code, has }) => ({
    kind: "device", href, title, line: "",
    names: [
      [title, ""], ...called, [deviceFolder(href), ""], [code, "short link"],
      ...has.map(place => [data.shared[place], "has the part"]),
    ],
  }))
  const ordered = [...plain, ...devices].map((thing, place) => ({ thing, place }))
  ordered.sort((a, b) => kindOrder(a.thing.kind) - kindOrder(b.thing.kind) || a.place - b.place)
  const pairs = data.pairs.map(pair => pairThing(known, pair))
  return [...ordered.map(({ thing }) => thing), ...pairs, ...sectionsOf(known, data.parts), ...sectionsOf(pairs, data.pairParts)]
}

export function devicesOf({ devices }) {
  return devices.map(([folder, maker, model, aliases, code, there, has]) => ({
    href: `devices/${folder}/index.html`, title: `${maker} ${model}`.trim(), code, there, has,
    called: [[model, ""], ...aliases.map(alias => [alias, "also called"])],
  }))
}

const deviceFolder = href => href.split("/")[1]

function pairThing(devices, [a, b, there, address]) {
  const [one, other] = [devices[a], devices[b]]
  const folders = [one, other].map(({ href }) => deviceFolder(href)).sort()
  const title = `${one.title} or ${other.title}`
  return {
    kind: "pair", href: address ?? `pairs/${folders.join("--")}/index.html`, title, line: "", names: [[title, ""]], there,
    each: [one, other].map(({ title: whole, called: names }) => [whole, ...names.map(([name]) => name)]),
  }
}

// The sections of the pages of devices and pairs: "Rondel 6: price". They are asked for by subject and section together,
// those of a pair by both of its devices.
function sectionsOf(things, parts) {
  return things.flatMap(({ href, title, called, there, each }) =>
    [...there].map(letter => {
      const [fragment, part, words] = parts[letter.charCodeAt(0) - 97]
      const subjects = each ?? [[title, ...called.map(([name]) => name)]]
      return { kind: "section", href: `${href}#${fragment}`, title: `${title}: ${part}`, line: "", subjects, parts: [part, ...words] }
    })
  )
}

// The number that a query asks for, its other words, and whether its unit was said: "560 Mbit/s rondel" is 560, "rondel" and
// yes. null for none.
export function numberAsked(words) {
  const units = new Set(["mbit", "mbps", "mb", "s", "megabit", "megabits"])
  const numbers = words.filter(word => /^\d{2,5}(?:\.\d+)?$/.test(word))
  if (numbers.length !== 1) return null
  const others = words.filter(word => word !== numbers[0] && !units.has(word))
  return { value: Number(numbers[0]), others, unit: words.length > others.length + 1 }
}

// From where to where figures are near a number [Mbit/s].
export function nearTo(value) {
  const step = value < 100 ? 2 : 10
  return [Math.max(0, value - step), value + step]
}

// files: columns of rows (builder/publishing/files/figure_index.py). The nearest first; of those equally near in their order.
export function figuresNear(value, files) {
  const [low, high] = nearTo(value)
  return files
    .flatMap(file => file.printed.map((_, i) => Object.fromEntries(Object.entries(file).map(([column, all]) => [column, all[i]]))))
    .map(row => ({ ...row, size: Number(row.printed.replace(/^≥\s*/, "")) }))
    .filter(({ size }) => low <= size && size <= high)
    .map(row => ({
      kind: "figure", row, distance: Math.abs(row.size - value), title: `${row.name}: ${row.printed} Mbit/s${row.beside && ` (${row.beside})`}`,
      href: `${row.page}#${encodeURIComponent(row.fragment)}`, line: `${row.place}, ${row.when}; ${row.measured}`,
      names: [row.name, row.place, row.when, row.measured],
    }))
    .sort((a, b) => a.distance - b.distance)
}

// Things by their names, the best first, and behind them sections of devices.
export function thingsFound(query, things) {
  const hits = search(query, things.filter(thing => thing.names))
  const sections = sectionsFound(query, things).map(entry => ({ entry, rank: 3, why: "", name: "" }))
  return sections.length ? [...hits.filter(hit => hit.rank < 4), ...sections] : hits
}

// Sections for which some words name the subject, or each of the two of a pair, and all the others the section.
export function sectionsFound(query, things) {
  const asked = searchWords(query)
  return things.filter(thing => thing.parts).filter(thing => {
    thing.words ??= [...thing.subjects, thing.parts].map(names => names.flatMap(name => searchWords(name)))
    const subjects = thing.words.slice(0, -1)
    const ofPart = thing.words.at(-1)
    const rest = asked.filter(word => !subjects.some(words => anyBegins(words, word)))
    const named = subjects.every((words, i) => asked.some(word =>
      anyBegins(words, word) && !subjects.some((other, k) => k !== i && anyBegins(other, word))))
    return rest.length > 0 && named && rest.every(word => anyBegins(ofPart, word))
  })
}
