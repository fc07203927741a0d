import assert from "node:assert/strict"
import test from "node:test"
import { answerOf } from "../../site_templates/js/room_answer.mjs"
import { besideSubject } from "../../site_templates/js/room_beside.mjs"

const row = (id, value, more = {}) => ({ id, label: id.toUpperCase(), stretches: [[40, 90]], value, text: String(value), least: value, most: value, low: value - 9, high: value + 9, interval: `${value - 9}–${value + 9}`, ...more })
const separated = (leads, gain, low, high) => ({ verdict: "separated", leads, numbers: [gain, low, high, 30], decimals: 0, sentence: "s" })
const untold = { verdict: "not-separated", numbers: [3, -20, 26, 23], decimals: 0, sentence: "s" }
const place = { low: 70, high: 70 }

function beside(rows, figures, yours = true) {
  const all = besideSubject(rows, rows.find(one => one.id === "m"), new Map(Object.entries(figures)), yours)
  return { all, kinds: Object.fromEntries(all.map(one => [one.id, [one.beside.kind, one.beside.words, one.beside.likely]])) }
}

function said(rows, figures, yours) {
  const { all } = beside(rows, figures, yours)
  const { lead, rest } = answerOf(all, all.find(one => one.id === "m"), yours ?? true, place, 12)
  return `${lead}${rest}`
}

test("the verdict of the pair decides, and never whether intervals overlap", () => {
  // "a" comes before "m" in a pair, "z" behind it.
  const { kinds } = beside([row("a", 105), row("m", 100), row("z", 60), row("b", 101)], { a: separated("a", 91, 31, 150), z: separated("a", 40, 20, 60), b: untold })
  assert.deepEqual(kinds, { a: ["more", "91 more", "31–150"], m: ["subject", "", ""], z: ["less", "40 less", "20–60"], b: ["untold", "23 would have shown", ""] })
})

test("who leads over all but gives less here is neither more nor less", () => {
  const rows = [row("a", 90), row("m", 100)]
  assert.deepEqual(beside(rows, { a: separated("a", 12, 4, 20) }).kinds.a, ["elsewhere", "12 more", "4–20"])
  assert.match(said(rows, { a: separated("a", 12, 4, 20) }), / A gives more than M in one place and less in another\.$/)
})

test("a lead of at least so much, no verdict and no comparison are said as what they are", () => {
  const figures = {
    a: { verdict: "at-least", leads: "a", numbers: [50, 10, 0, 0], decimals: 0, sentence: "s" },
    b: { verdict: "undecided", numbers: [0, 0, 0, 0], decimals: 0, sentence: "s" },
    c: { verdict: "no-verdict", numbers: [0, 0, 0, 0], decimals: 0, sentence: "s" },
    d: { verdict: "refused", numbers: [0, 0, 0, 0], decimals: 0, sentence: "why" },
  }
  const { kinds } = beside([row("a", 150), row("b", 120), row("c", 110), row("d", 105), row("m", 100), row("e", 90)], figures)
  assert.deepEqual(kinds.a, ["more", "at least 50 more", ""])
  assert.deepEqual([kinds.b[1], kinds.c[1], kinds.d[1], kinds.e[1]], ["undecided: one was held back", "no verdict: too few runs", "no comparison", "no comparison"])
})

test("the first line names at most three, the largest difference first", () => {
  const gains = { a: 10, b: 40, c: 30, d: 20 }
  const rows = [...Object.keys(gains).map(id => row(id, 200)), row("m", 100)]
  const figures = Object.fromEntries(Object.entries(gains).map(([id, gain]) => [id, separated("a", gain, gain - 5, gain + 5)]))
  assert.equal(said(rows, figures), "More than your M: B, by 40 Mbit/s over 40–90 dB, likely 35–45; C, by 30 Mbit/s over 40–90 dB, likely 25–35; D, by 20 Mbit/s over 40–90 dB, likely 15–25; and 1 more.")
})

test("nothing gives more, with and without others that cannot be told apart", () => {
  assert.equal(said([row("m", 100), row("z", 60)], { z: separated("a", 40, 20, 60) }), "Nothing tested here gives more than your M.")
  assert.equal(said([row("m", 100), row("z", 99)], { z: untold }), "Nothing tested here gives more than your M, as far as these tests can tell. Z cannot be told apart from yours.")
})

test("without a device of the reader's own: who gives most, and who cannot be told apart from it", () => {
  assert.equal(said([row("m", 100), row("z", 99)], { z: untold }, false), "M gives most: 100 Mbit/s, likely 91–109. Z cannot be told apart from it.")
  assert.equal(said([row("m", 940, { text: "≥ 940", low: undefined, high: undefined, interval: "held back" })], {}, false), "M gives most: at least 940 Mbit/s.")
})

test("a device of the reader's own that was not tested there says what it gave nearest to it", () => {
  const near = { value: 340, text: "340", db: 77.1, away: 7.9, where: "7.9 dB nearer, at 77.1 dB" }
  const rows = [row("a", 300), { id: "m", label: "M", stretches: [[40, 77.1]], value: null, near }]
  assert.equal(said(rows, { a: untold }), "Nothing tested here gives more than your M, as far as these tests can tell. A cannot be told apart from yours. Your M was not tested at 70 dB: 7.9 dB nearer, at 77.1 dB, it gave 340 Mbit/s.")
})
