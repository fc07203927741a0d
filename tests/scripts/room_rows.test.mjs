import assert from "node:assert/strict"
import test from "node:test"
import { leadingRow, ordered, roomRow } from "../../site_templates/js/room_rows.mjs"

// Tested at 50, 60, 80 and 90 dB: no line across the 20 dB between. Half-widths are 10 everywhere.
const line = { x: [50, 60, 80, 90], y: [900, 700, 400, 200], bound: [0, 0, 0, 0], half: [10, 10, 10, 10], between: [[10, 10, 10], null, [10, 10, 10]], at: [0.05, 0.5, 0.95], gap: 12 }
const device = { id: "a", label: "A", maker: "M", model: "A", means: { near: [812, 20, 0, 0, 1] }, line }
const at = (low, high = low, window) => roomRow(device, { low, high, window })

test("a place between two spots gives the line's value with its interval", () => {
  const row = at(55)
  assert.equal(row.text, "800")
  assert.equal(row.interval, "790–810")
  assert.equal(row.covered ?? null, null)
})

test("a range gives the least and the most, and the interval around both", () => {
  const row = at(52, 58)
  assert.equal(row.text, "740–860")
  assert.equal(row.interval, "730–870")
  assert.equal(row.covered, null)
})

test("a range wider than what was tested is judged where they overlap, and says so", () => {
  const row = at(85, 99)
  assert.equal(row.text, "200–300")
  assert.equal(row.remark, "tested at 85–90 dB of it")
  assert.equal(at(55, 85).remark, "tested at 55–60 and 80–85 dB of it")
})

test("beyond the tested range and in a gap, the nearest tested place answers", () => {
  assert.equal(at(93.5).near.where, "3.5 dB nearer, at 90 dB")
  assert.equal(at(93.5).near.text, "200")
  assert.equal(at(45).near.where, "5 dB farther off, at 50 dB")
  assert.equal(at(66).near.where, "6 dB nearer, at 60 dB")
  assert.equal(at(75).near.where, "5 dB farther off, at 80 dB")
  assert.equal(at(100, 104).near.where, "10 dB nearer, at 90 dB")
})

test("a window has its own mean; where there is none, the line over what was tested of it", () => {
  assert.equal(at(50, 60, "near").text, "812")
  assert.equal(at(50, 60, "near").interval, "792–832")
  assert.equal(at(60, 75, "middle").remark, "tested at 60 dB of it")
})

test("a value that was held back is at least so much, and says by what", () => {
  const held = { ...device, held: "held back by its 1 Gbit/s port", line: { ...line, bound: [1, 0, 0, 0], half: [null, 10, 10, 10], port: [1, 0, 0, 0], between: [null, null, [10, 10, 10]] } }
  const row = roomRow(held, { low: 50, high: 50 })
  assert.equal(row.text, "≥ 900")
  assert.equal(row.interval, "held back by the client or the lab")
  assert.equal(row.remark, "held back by its 1 Gbit/s port")
})

test("who was tested comes first, by value; then who was tested nearest", () => {
  const rows = ordered([{ label: "C", value: null, near: { away: 2 } }, { label: "B", value: 10 }, { label: "D", value: null, near: { away: 1 } }, { label: "A", value: 20 }])
  assert.deepEqual(rows.map(row => row.label), ["A", "B", "D", "C"])
})

test("a device that was tested over little of a place does not lead it", () => {
  const rows = [{ label: "A", value: 90, covered: [[81, 83]] }, { label: "B", value: 80, covered: [[81, 91.8]] }, { label: "C", value: 70, covered: [[81, 91.9]] }]
  assert.equal(leadingRow(rows).label, "B")
  assert.equal(leadingRow([{ label: "N", value: null }]).label, "N")
})
