import assert from "node:assert/strict"
import test from "node:test"
import { apart, drawnRows, roomShapes, ticks } from "../../site_templates/js/room_shapes.mjs"

const SIZE = { width: 640, height: 320, measure: text => text.length * 8 }
const line = (x, y) => ({ x, y, bound: x.map(() => 0), gap: 12 })

test("an axis ends at or above what is on it, in even steps", () => {
  assert.deepEqual(ticks(950), [0, 500, 1000])
  assert.deepEqual(ticks(80), [0, 20, 40, 60, 80])
  assert.deepEqual(ticks(0), [0])
})

test("six devices at most, the nearest to the reader's own speed, in the order of the table", () => {
  const rows = [900, 800, 700, 600, 500, 400, 300, null].map(sort => ({ sort }))
  assert.deepEqual(drawnRows(rows).map(row => row.sort), [900, 800, 700, 600, 500, 400])
  assert.deepEqual(drawnRows(rows, 310).map(row => row.sort), [800, 700, 600, 500, 400, 300])
})

test("places follow the axes: by hand, halfway between 50 and 90 dB, and half of 1000 Mbit/s", () => {
  const shapes = roomShapes([{ name: "A", line: line([50, 60, 70, 80, 90], [1000, 900, 500, 300, 0]) }], [70, 70], 500, SIZE)
  const { frame, lines, own, place } = shapes
  assert.equal(place.x, (frame.left + frame.right) / 2)
  assert.equal(place.width, 0)
  assert.equal(own, (frame.top + frame.foot) / 2)
  assert.equal(lines[0].points[2].x, place.x)
  assert.equal(lines[0].points[2].y, own)
})

test("no line is drawn across a gap of more than 12 dB", () => {
  const [drawn] = roomShapes([{ name: "A", line: line([50, 63, 70], [900, 500, 400]) }], [65, 65], undefined, SIZE).lines
  assert.deepEqual(drawn.pieces.map(piece => piece.length), [1, 2])
})

test("labels stand apart and inside", () => {
  const placed = apart([100, 100, 104, 300], 28, 300)
  const order = [...placed].sort((a, b) => a - b)
  order.slice(1).forEach((y, i) => assert.ok(y - order[i] >= 16))
  assert.ok(Math.max(...placed) <= 300 && Math.min(...placed) >= 28)
})
