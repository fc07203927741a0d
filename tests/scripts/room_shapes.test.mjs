import assert from "node:assert/strict"
import test from "node:test"
import { roomGroups } from "../../site_templates/js/room_groups.mjs"
import { roomShapes, ticks } from "../../site_templates/js/room_shapes.mjs"

const measure = text => text.length * 8
const row = (model, value, kind, more = {}) => ({ id: model, maker: "Maker", model, label: model, value, text: String(value), least: value, most: value, low: value - 50, high: value + 50, beside: { kind, words: "", likely: "" }, ...more })
const place = { low: 70, high: 70 }

test("an axis ends at or above what is on it, in even steps", () => {
  assert.deepEqual(ticks(950), [0, 250, 500, 750, 1000])
  assert.deepEqual(ticks(80), [0, 20, 40, 60, 80])
  assert.deepEqual(ticks(0), [0])
})

test("rows stand under what they are beside the reader's own; who was not tested there stands last", () => {
  const rows = [row("A", 800, "more"), row("M", 700, "subject"), row("B", 690, "untold"), row("C", 400, "less"), row("D", null, "untold", { near: { value: 595, text: "595", db: 77.1 } })]
  const titles = groups => groups.map(({ title, rows: members }) => [title, members.map(one => one.model).join(" ")])
  assert.deepEqual(titles(roomGroups(rows, rows[1], true, place)), [["More than yours", "A"], ["Cannot be told apart from yours", "M B"], ["Less than yours", "C"], ["Not tested at 70 dB", "D"]])
  const leader = [row("M", 800, "subject"), row("B", 690, "untold")]
  assert.deepEqual(titles(roomGroups(leader, leader[0], false, place)), [["Gives most", "M"], ["Cannot be told apart from M", "B"]])
})

test("of many devices the nearest to the reader's own are drawn", () => {
  const rows = Array.from({ length: 400 }, (_, i) => row(`D${i}`, 1000 - i, i === 200 ? "subject" : "untold"))
  const drawn = roomGroups(rows, rows[200], true, place).flatMap(group => group.rows)
  assert.ok(drawn.length <= 25 && drawn.includes(rows[200]))
  drawn.forEach(one => assert.ok(Math.abs(one.value - 800) <= 13))
})

test("places follow the axis: by hand, half of 1000 Mbit/s is halfway between its ends", () => {
  const rows = [row("A", 1000, "more", { low: 1000, high: 1000 }), row("M", 500, "subject")]
  for (const width of [340, 836, 1136]) {
    const { drawn, left, right, own } = roomShapes(roomGroups(rows, rows[1], true, place), 500, { width, measure })
    const [a, m] = drawn
    assert.equal(a.at, right)
    assert.equal(m.at, (left + right) / 2)
    assert.equal(own, m.at)
    assert.equal((m.ends[0] + m.ends[1]) / 2, m.at)
  }
})

test("names never meet the figures beside them, and no two are cut to the same", () => {
  const long = ["Extraordinary Rondel 4", "Extraordinary Rondel 6", "Other Extraordinary Rondel 4"]
  const rows = long.map((model, i) => row(model, 800 - i, i ? "untold" : "subject"))
  for (const width of [300, 340, 640, 836]) {
    const { drawn, wide, left } = roomShapes(roomGroups(rows, rows[0], true, place), undefined, { width, measure })
    assert.equal(new Set(drawn.map(one => one.name)).size, 3)
    drawn.forEach(one => assert.ok(measure(one.name) <= (wide ? left : width - measure(one.figure)), one.name))
  }
})

test("every line across has its number, and no two numbers meet", () => {
  const rows = [row("A", 990, "more"), row("M", 500, "subject")]
  for (const width of [340, 600, 700, 1136]) {
    const { across } = roomShapes(roomGroups(rows, rows[1], true, place), 500, { width, measure })
    assert.ok(across.length >= 2 && across[0].text === "0")
    across.slice(1).forEach(({ x, text }, i) => assert.ok(x - across[i].x >= measure(text)))
  }
  assert.deepEqual(roomShapes(roomGroups(rows, rows[1], true, place), 500, { width: 1136, measure }).across.map(({ text }) => text), ["0", "500", "1000", "1500"]) // by hand: the interval ends at 1040
})
