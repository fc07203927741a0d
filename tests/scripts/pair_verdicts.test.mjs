import assert from "node:assert/strict"
import { readFileSync } from "node:fs"
import { test } from "node:test"

import { fullestGroup, holmSeparated, judgedTogether, overall, wordFor } from "../../site_templates/js/pair_verdicts.mjs"

test("step-down separation as published", () => {
  // Source: tests/published/multiple_testing.csv, rows of Holm's method (Benjamini & Hochberg 1995, section 3.2 data).
  const table = readFileSync(new URL("../published/multiple_testing.csv", import.meta.url), "utf8")
  const rows = table.trim().split("\n").map(line => line.split(",")).filter(row => row[0] === "holm")
  const bySource = Map.groupBy ? Map.groupBy(rows, row => row[5]) : new Map([[rows[0][5], rows.filter(r => r[5] === rows[0][5])]])
  assert.ok(rows.length >= 15)
  for (const [source, own] of bySource) {
    assert.deepEqual(holmSeparated(own.map(row => Number(row[1]))), own.map(row => row[3] === "1"), source)
  }
})

const led = (a, b, leads, p = 0.001) => ({ a, b, figure: { verdict: "separated", leads, p } })
const same = (a, b) => ({ a, b, figure: { verdict: "not-separated", p: 0.4 } })
const name = id => id.toUpperCase()

test("one that leads each of the others is said", () => {
  const judged = judgedTogether([led("x", "y", "a"), led("x", "z", "a"), same("y", "z")])
  assert.match(overall(["y", "x", "z"], judged, name), /^X leads each of the others/)
  assert.equal(wordFor("y", "x", judged), "is behind")
  assert.equal(wordFor("y", "z", judged), "not told apart")
})

test("a summary without its spread is called no single run", () => {
  const none = sentence => ({ a: "x", b: "y", figure: { verdict: "no-verdict", sentence } })
  const words = ["Single run: X was measured once.", "No spread: X has only a summary."].map(sentence => judgedTogether([none(sentence)])[0].word)
  assert.deepEqual(words, ["single run, no verdict", "no spread noted, no verdict"])
})

test("a ring has no overall winner and is named", () => {
  // Source: b3 of the job analysis: A over B near, B over C in the middle, C over A far off.
  const judged = judgedTogether([led("a", "b", "a"), led("a", "c", "b"), led("b", "c", "a")])
  const said = overall(["a", "b", "c"], judged, name)
  assert.match(said, /^There is no overall winner: A leads B, B leads C and C leads A/)
})

test("no single leader is said without a ring", () => {
  const judged = judgedTogether([led("a", "b", "a"), same("a", "c"), led("b", "c", "b")])
  assert.equal(overall(["a", "b", "c"], judged, name), "There is no overall winner: none of them leads each of the others.")
})

test("a lead that does not survive the number of comparisons is not a lead", () => {
  // By hand: of three comparisons p = 0.03 alone is judged against 0.05/3.
  const judged = judgedTogether([led("a", "b", "a", 0.03), led("a", "c", "a", 0.04), same("b", "c")])
  assert.equal(wordFor("a", "b", judged), "not told apart among so many")
})

test("what cannot be compared says so and counts for nothing", () => {
  const judged = judgedTogether([
    led("a", "b", "a", 0.04),
    { a: "a", b: "c", figure: { verdict: "refused" } },
    { a: "b", b: "c", figure: null },
  ])
  assert.equal(wordFor("b", "a", judged), "is behind")
  assert.equal(wordFor("c", "a", judged), "cannot be compared")
  assert.equal(wordFor("c", "b", judged), "not tested alike")
})

test("the group with most verdicts is taken, of equals the first", () => {
  const pair = (...groups) => ({ figures: groups.map(([group, verdict]) => ({ group, verdict })) })
  assert.equal(fullestGroup(["p", "q"], [pair(["p", "refused"], ["q", "separated"])]), "q")
  assert.equal(fullestGroup(["p", "q"], [pair(["q", "undecided"], ["p", "separated"])]), "p")
})
