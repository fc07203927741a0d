import assert from "node:assert/strict"
import { test } from "node:test"

import { fit, folded, oneSlipApart, search, searchWords } from "../../site_templates/js/matching.mjs"

const DEVICES = [
  { id: "shale-2", names: [["Tessarik Shale 2", ""], ["Shale 2", ""], ["Shale II", "also called"], ["QX-5018", "has the part"]] },
  { id: "porch", names: [["Tessarik Porch", ""], ["Porch", ""], ["Band steering", "has evidence on"]] },
  { id: "rondel-4", names: [["Polmerre Rondel 4", ""], ["Rondel 4", ""]] },
  { id: "rondel-6", names: [["Polmerre Rondel 6", ""], ["Rondel 6", ""]] },
]
const ids = query => search(query, DEVICES).map(hit => hit.entry.id)

test("what D01 of the job analysis asks for finds it", () => {
  for (const query of ["shale-2", "SHALE2", "shal 2", "Shale II", "qx5018", "tessarik shale"]) {
    assert.deepEqual(ids(query)[0], "shale-2", query)
  }
  assert.deepEqual(ids("band-steering"), ["porch"])
})

test("words in another order find it, a word that is not there does not", () => {
  assert.deepEqual(ids("shale tessarik"), ["shale-2"])
  assert.deepEqual(ids("shale polmerre"), [])
})

test("words may come from several names of one thing, and all of them have to", () => {
  assert.deepEqual(ids("tessarik steering"), ["porch"])
  assert.deepEqual(ids("tessarik steering QX"), [])
})

test("a slip counts only where nothing fits without one", () => {
  assert.deepEqual(ids("rondel 4"), ["rondel-4"])
  assert.deepEqual(ids("rondel 5"), ["rondel-4", "rondel-6"])
  assert.deepEqual(ids("porhc"), ["porch"])
})

test("whole words and their beginnings count, what lies within or across words does not", () => {
  assert.equal(fit("fir", "Which firmware?"), 2)
  assert.equal(fit("dB", "A third band"), null)
  assert.equal(fit("ware", "firmware"), null)
  assert.equal(fit("6 GHz", "Wrenlet B2, 6 GHz, 320 MHz"), 2)
  assert.equal(fit("6ghz", "Wrenlet B2, 6 GHz, 320 MHz"), 2)
})

test("a number is never the beginning of a longer one, but for its decimals", () => {
  assert.equal(fit("560", "was 560.1 Mbit/s, now 551"), 2)
  assert.equal(fit("560", "was 5601 Mbit/s"), null)
  assert.equal(fit("560,1", "was 560.1 Mbit/s"), 2)
  assert.equal(fit("610", "firmware 6.1.0"), null)
  assert.equal(fit("6.1", "firmware 6.1.0"), 2)
  assert.equal(fit("802.11", "802.11ax"), 1)
  assert.equal(fit("QX-50", "QX-5018"), null)
})

test("accents and signs say nothing", () => {
  assert.equal(folded("Šhále–2 (EU)"), "shale2eu")
  assert.equal(fit("", "Porch"), null)
  assert.equal(fit("---", "Porch"), null)
  assert.deepEqual(searchWords("623,7 Mbit/s at S5, 5 GHz."), ["623.7", "mbit", "s", "at", "s5", "5", "ghz"])
})

// Optimal string alignment distance by its recurrence (Boytsov 2011, section 2.2.1), as a check on the short cut.
function distance(a, b) {
  const d = Array.from({ length: a.length + 1 }, (_, i) => [i, ...Array(b.length).fill(0)])
  for (let j = 0; j <= b.length; j += 1) d[0][j] = j
  for (let i = 1; i <= a.length; i += 1) {
    for (let j = 1; j <= b.length; j += 1) {
      const cost = a[i - 1] === b[j - 1] ? 0 : 1
      d[i][j] = Math.min(d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + cost)
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) d[i][j] = Math.min(d[i][j], d[i - 2][j - 2] + 1)
    }
  }
  return d[a.length][b.length]
}

test("one slip is an edit distance of at most one, over all words of up to four of three letters", () => {
  const words = [""]
  for (let i = 0; i < words.length; i += 1) if (words[i].length < 4) words.push(...["a", "b", "c"].map(l => words[i] + l))
  for (const a of words) for (const b of words) assert.equal(oneSlipApart(a, b), distance(a, b) <= 1, `${a} ${b}`)
})
