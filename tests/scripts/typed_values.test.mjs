import assert from "node:assert/strict"
import { test } from "node:test"

import { readState, writeState } from "../../site_templates/js/address_state.mjs"
import { decibelRange, decimal, rate } from "../../site_templates/js/rounding.mjs"
import { typedLevel, typedLoss, typedNumber, typedSpeed, typedSum } from "../../site_templates/js/typed_values.mjs"

test("halves are rounded away from zero, by the number's own text", () => {
  // Source: method.md 12. 1.005 and 2.675 are the usual traps of binary rounding.
  assert.equal(decimal(2.5, 0), "3")
  assert.equal(decimal(-2.5, 0), "−3")
  assert.equal(decimal(1.005, 2), "1.01")
  assert.equal(decimal(2.675, 2), "2.68")
  assert.equal(decimal(-0.04, 1), "0.0")
  assert.equal(decimal(26, 0, { signed: true }), "+26")
  assert.equal(rate(98.44), "98.4")
  assert.equal(rate(925.2, { bound: true }), "≥ 925")
  assert.equal(decibelRange(60, 69.56), "60–69.6")
})

test("numbers as people type them", () => {
  assert.equal(typedNumber("72,5"), 72.5)
  assert.equal(typedNumber("\u2212 54"), -54)
  assert.equal(typedNumber("5 4"), 54)
  for (const text of ["", "seven", "1.2.3", "1,234.5", "0x10", "1e3"]) assert.equal(typedNumber(text), null, text)
})

test("levels that cannot be are asked about or refused, each for its own reason", () => {
  // Source: E06 of the job analysis: 54, 0, 87%, -4 and -112 are held, each with its own reason.
  assert.deepEqual(typedLevel("-54 dBm"), { value: -54 })
  assert.match(typedLevel("54").ask, /^Did you mean −54 dBm\?/)
  assert.equal(typedLevel("54").meant, -54)
  const reasons = ["0", "87%", "-4", "-112", "strong"].map(text => typedLevel(text).refuse)
  assert.equal(new Set(reasons).size, 5)
  assert.ok(reasons.every(Boolean))
})

test("a loss with a minus sign is asked about, one beyond the axis refused", () => {
  assert.equal(typedLoss("-68").meant, 68)
  assert.ok(typedLoss("131").refuse)
  assert.deepEqual(typedLoss("130 dB"), { value: 130 })
})

test("a speed needs a unit", () => {
  // Source: D03: 101.6 MB/s is 812.8 Mbit/s; IEC 80000-13 for MiB: 107.3 × 1024² × 8 bit = 900.0976384 Mbit.
  assert.ok(typedSpeed("101.6", "").refuse)
  assert.equal(typedSpeed("101.6", "MB/s").value.toFixed(4), "812.8000")
  assert.equal(typedSpeed("107.3 MiB/s", "").value.toFixed(7), "900.0976384")
  assert.ok(typedSpeed("100 mbps", "").refuse)
  assert.ok(typedSpeed("100 MB/s", "Mbit/s").refuse)
  assert.ok(typedSpeed("-3", "Mbit/s").refuse)
})

test("a state goes into the fragment and comes back", () => {
  const state = { group: "u2~5~80", loss: "67,5", unit: "MB/s", devices: "a b" }
  assert.deepEqual(readState(writeState(state)), state)
  assert.equal(writeState({ loss: "" }), "")
  assert.deepEqual(readState("#corrections"), {})
})

test("a sum is read with or without its currency; three digits at the end are thousands", () => {
  for (const [text, value] of [
    ["150", 150],
    ["150 EUR", 150],
    ["€ 149,50", 149.5],
    ["1.000", 1000],
    ["1,250 €", 1250],
    [" 99.9 ", 99.9],
  ]) assert.deepEqual(typedSum(text), { value }, text)
  for (const text of ["cheap", "-5", "1.2.3"]) assert.ok(typedSum(text).refuse, text)
})
