import assert from "node:assert/strict"
import test from "node:test"
import { fittingNames } from "../../site_templates/js/room_names.mjs"
import { roomShapes } from "../../site_templates/js/room_shapes.mjs"

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

test("the plot ends where the widest name begins, however wide the reader's face is", () => {
  const line = { x: [50, 60], y: [900, 500], bound: [0, 0], gap: 12 }
  for (const letter of [5, 8, 20]) {
    const wide = text => text.length * letter
    const { frame, lines } = roomShapes([{ name: "Polmerre Rondel 4", line }], [55, 55], undefined, { width: 340, height: 320, measure: wide })
    assert.ok(lines[0].label.x + 13 + wide(lines[0].label.text) <= 340)
    assert.ok(frame.right >= 340 - 124)
  }
})
