// Finding a thing by what people call it: case, accents and signs say nothing, words count from their beginning, all of
// several words have to fit, and one slip of the finger is forgiven where nothing fits without it.

const SHORTEST_FOR_A_SLIP = 4 // with fewer letters almost anything is one slip away
const FROM_SEVERAL_NAMES = 3
const SLIPPED = 4

// Words in lower case. Figures keep what stands between their digits: 6.1.0 is one word, and 623,7 is 623.7.
export function searchWords(text) {
  const plain = text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase().replace(/(\d),(?=\d)/g, "$1.")
  return plain.match(/[\p{L}\p{N}]+(?:(?<=\d)\.(?=\d)[\p{L}\p{N}]+)*/gu) ?? []
}

export function folded(text) {
  return searchWords(text).join("")
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

// Whether words, read on from one of them, begin with a text: "rondel6" begins "rondel", "6". A number is never the
// beginning of a longer one: 56 does not begin 560, and 560 begins 560.1.
export function beginsAt(words, place, text) {
  let rest = text
  for (let i = place; i < words.length; i += 1) {
    if (!rest.startsWith(words[i])) {
      return words[i].startsWith(rest) && !(/\d$/.test(rest) && /\d/.test(words[i][rest.length]))
    }
    rest = rest.slice(words[i].length)
    if (!rest) return true
  }
  return false
}

export function anyBegins(words, text) {
  return words.some((_, place) => beginsAt(words, place, text))
}

const slipped = (asked, word) =>
  word.startsWith(asked) ? beginsAt([word], 0, asked) : asked.length >= SHORTEST_FOR_A_SLIP && oneSlipApart(asked, word)

// How well a query fits a name, both as words: 0 is the name itself, 1 its beginning, 2 words of it in their order,
// 3 all words in any order, 4 with one slip; null where it does not fit.
export function fit(query, name) {
  const [asked, words] = [asWords(query), asWords(name)]
  if (!asked.length) return null
  const [wanted, whole] = [asked.join(""), words.join("")]
  if (wanted === whole) return 0
  if (beginsAt(words, 0, wanted)) return 1
  if (anyBegins(words, wanted)) return 2
  if (asked.every(word => anyBegins(words, word))) return FROM_SEVERAL_NAMES
  if (wanted.length < SHORTEST_FOR_A_SLIP) return null
  if (oneSlipApart(wanted, whole)) return SLIPPED
  return asked.every(word => words.some(other => slipped(word, other))) ? SLIPPED : null
}

const asWords = text => (typeof text === "string" ? searchWords(text) : text)

// entries: [{names: [[name, why], …], …}]; found ones with their best name, the best first and otherwise in their order.
// A query may take its words from several names of one entry. Slips count only where nothing fits without one.
export function search(query, entries) {
  const asked = searchWords(query)
  const hits = entries
    .map((entry, place) => ({ entry, place, ...bestName(asked, entry) }))
    .filter(hit => hit.rank !== null)
    .sort((a, b) => a.rank - b.rank || a.place - b.place)
  const clean = hits.filter(hit => hit.rank < SLIPPED)
  return clean.length ? clean : hits
}

function bestName(asked, entry) {
  entry.words ??= entry.names.map(([name]) => searchWords(name))
  let best = { rank: null, why: "", name: "" }
  entry.names.forEach(([name, why], i) => {
    const rank = fit(asked, entry.words[i])
    if (rank !== null && (best.rank === null || rank < best.rank)) best = { rank, why, name }
  })
  const several = asked.length > 1 && (best.rank === null || best.rank === SLIPPED)
  if (several && asked.every(word => entry.words.some(words => anyBegins(words, word)))) {
    best = { rank: FROM_SEVERAL_NAMES, why: "", name: "" }
  }
  return best
}
