// Finding a thing by what people call it: hyphens, spaces and case say nothing, and one slip of the finger is forgiven.

const SHORTEST_FOR_A_SLIP = 4 // with fewer letters almost anything is one slip away

export function folded(text) {
  return text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase().replace(/[^\p{L}\p{N}]/gu, "")
}

// Whether two texts differ by at most one letter that is missing, added, another, or changed places with the next.
export function oneSlipApart(a, b) {
  if (Math.abs(a.length - b.length) > 1) return false
  let start = 0
  while (start < a.length && a[start] === b[start]) start += 1
  let [endA, endB] = [a.length, b.length]
  while (endA > start && endB > start && a[endA - 1] === b[endB - 1]) { endA -= 1; endB -= 1 }
  const [restA, restB] = [a.slice(start, endA), b.slice(start, endB)]
  if (restA.length <= 1 && restB.length <= 1) return true
  return restA.length === 2 && restB.length === 2 && restA === restB[1] + restB[0]
}

// How well a query fits a name: 0 is the name itself, 1 its beginning, 2 a part of it, 3 its words in another order,
// 4 with one slip; null where it does not fit.
export function fit(query, name) {
  const [wanted, whole] = [folded(query), folded(name)]
  if (!wanted) return null
  if (wanted === whole) return 0
  if (whole.startsWith(wanted)) return 1
  if (whole.includes(wanted)) return 2
  const words = name.split(/[\s/-]+/).map(folded)
  const asked = query.split(/[\s/-]+/).map(folded).filter(Boolean)
  if (asked.length > 1 && asked.every(word => words.some(own => own.startsWith(word)))) return 3
  if (wanted.length < SHORTEST_FOR_A_SLIP) return null
  if (oneSlipApart(wanted, whole)) return 4
  const slipped = (word, own) => own.startsWith(word) || (word.length >= SHORTEST_FOR_A_SLIP && oneSlipApart(word, own))
  if (asked.every(word => words.some(own => slipped(word, own)))) return 4
  return null
}

// entries: [{names: [[name, why], …], …}]; found ones with their best name, the best first. Slips count only where
// nothing fits without one.
export function search(query, entries) {
  const found = entries
    .map((entry, place) => ({ entry, place, ...bestName(query, entry.names) }))
    .filter(hit => hit.rank !== null)
    .sort((a, b) => a.rank - b.rank || a.place - b.place)
  const clean = found.filter(hit => hit.rank < 4)
  return clean.length ? clean : found
}

function bestName(query, names) {
  let best = { rank: null, why: "", name: "" }
  for (const [name, why] of names) {
    const rank = fit(query, name)
    if (rank !== null && (best.rank === null || rank < best.rank)) best = { rank, why, name }
  }
  return best
}
