// The order of table rows, and which of them pass a reader's filters. Nothing known is ever last, either way round.

// key: {known, number, text}; number where the cell has one.
export function compareKeys(a, b, descending = false) {
  if (a.known !== b.known) return a.known ? -1 : 1
  const bothNumbers = a.number !== null && b.number !== null
  const order = bothNumbers ? a.number - b.number : a.text.localeCompare(b.text, "en", { numeric: true })
  return descending ? -order : order
}

export function keyOf(raw, text) {
  const shown = text.trim()
  if (raw === null && shown === "") return { known: false, number: null, text: "" }
  const number = raw !== null && raw.trim() !== "" && Number.isFinite(Number(raw)) ? Number(raw) : null
  return { known: true, number, text: raw ?? shown }
}

// A row passes "has" where the chosen value is among its own, "least" and "most" where its number is at least or at
// most the chosen one. What is not known of a row never passes.
export function passes(facets, { name, kind, value }) {
  const own = facets[name]
  if (own === undefined || own === "") return false
  if (kind === "has") return own.split(" ").includes(value)
  return kind === "least" ? Number(own) >= Number(value) : Number(own) <= Number(value)
}

// rows: facets of each; chosen: filters in force, each with its label in words. Which rows show, and in a sentence
// how many; where none does, which filter to blame.
export function filtered(rows, chosen, things) {
  const shown = rows.map(facets => chosen.every(filter => passes(facets, filter)))
  const count = shown.filter(Boolean).length
  if (!chosen.length) return { shown, sentence: "" }
  if (count) return { shown, sentence: `${count} of ${rows.length} ${things}.` }
  const without = chosen
    .map(filter => ({ filter, left: rows.filter(r => chosen.every(f => f === filter || passes(r, f))).length }))
    .sort((a, b) => b.left - a.left)[0]
  const blame = without.left
    ? `Without “${without.filter.label}” there would be ${without.left}.`
    : "No single filter is to blame: take more than one away."
  return { shown, sentence: `None of ${rows.length} ${things} passes. ${blame}` }
}
