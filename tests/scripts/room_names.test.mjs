import assert from "node:assert/strict"
import test from "node:test"
import { fittingNames } from "../../site_templates/js/room_names.mjs"

const measure = text => text.length * 10

test("a name that fits stays whole; one that does not keeps its end, word by word", () => {
  assert.deepEqual(fittingNames(["Polmerre Rondel 4", "Ingle"], 170, measure), ["Polmerre Rondel 4", "Ingle"])
  assert.deepEqual(fittingNames(["Polmerre Rondel 4", "Ingle"], 160, measure), ["… Rondel 4", "Ingle"])
  assert.deepEqual(fittingNames(["Polmerre Rondel 4"], 90, measure), ["… 4"])
  assert.deepEqual(fittingNames(["Nonpareil"], 60, measure), ["… reil"])
})

test("two devices never share a shortened name", () => {
  const names = ["Polmerre Rondel 4", "Tessarik Rondel 4", "Polmerre Rondel 6"]
  const short = fittingNames(names, 140, measure)
  assert.equal(new Set(short).size, 3)
  assert.deepEqual(short, ["1: … Rondel 4", "2: … Rondel 4", "… Rondel 6"])
  short.forEach(name => assert.ok(measure(name) <= 140))
})
