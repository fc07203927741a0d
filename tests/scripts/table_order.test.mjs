import assert from "node:assert/strict"
import { test } from "node:test"

import { compareKeys, filtered, keyOf, passes } from "../../site_templates/js/table_order.mjs"

const sorted = (keys, descending) =>
  [...keys].sort((a, b) => compareKeys(a, b, descending)).map(key => key.text || "unknown")

test("unknown is last, upwards and downwards", () => {
  const keys = [keyOf(null, ""), keyOf("9.5", "10"), keyOf("100.2", "100"), keyOf("-3", "−3")]
  assert.deepEqual(sorted(keys, false), ["-3", "9.5", "100.2", "unknown"])
  assert.deepEqual(sorted(keys, true), ["100.2", "9.5", "-3", "unknown"])
})

test("texts sort as people count: 7.9 before 7.10, dates by their day", () => {
  assert.deepEqual(sorted([keyOf(null, "7.10"), keyOf(null, "7.9")]), ["7.9", "7.10"])
  assert.deepEqual(sorted([keyOf("2024-10-02", "2 October"), keyOf("2024-09-30", "30 September")]), ["2024-09-30", "2024-10-02"])
})

test("zero is known, an empty raw value with a text is that text", () => {
  assert.deepEqual(keyOf("0", "0 of 3 runs"), { known: true, number: 0, text: "0" })
  assert.deepEqual(keyOf(null, " not stated "), { known: true, number: null, text: "not stated" })
})

const ROWS = [
  { band: "2.4 5", port: "1000", fell: "no" },
  { band: "2.4 5 6", port: "2500", fell: "yes" },
  { band: "5" },
]
const has = (name, value) => ({ name, kind: "has", value, label: `${name} ${value}` })

test("2.4 is not met by 24 or 2, and what is unknown never passes", () => {
  assert.ok(passes(ROWS[0], has("band", "2.4")))
  assert.ok(!passes({ band: "24 2" }, has("band", "2.4")))
  assert.ok(!passes(ROWS[2], { name: "port", kind: "least", value: "0" }))
  assert.ok(passes(ROWS[1], { name: "port", kind: "least", value: "2500" }))
  assert.ok(!passes(ROWS[1], { name: "port", kind: "most", value: "1000" }))
})

test("no filter says nothing, some say how many", () => {
  assert.deepEqual(filtered(ROWS, [], "devices"), { shown: [true, true, true], sentence: "" })
  assert.equal(filtered(ROWS, [has("band", "5")], "devices").sentence, "3 of 3 devices.")
})

test("where nothing passes the filter to blame is named", () => {
  const found = filtered(ROWS, [has("band", "6"), has("fell", "no")], "devices")
  assert.deepEqual(found.shown, [false, false, false])
  assert.equal(found.sentence, "None of 3 devices passes. Without “band 6” there would be 1.")
  assert.match(filtered(ROWS, [has("band", "7"), has("fell", "x")], "devices").sentence, /take more than one away/)
})
