import assert from "node:assert/strict"
import test from "node:test"
import { factRows } from "../../site_templates/js/side_by_side.mjs"

test("every term of any device has a row, in the order of the first", () => {
  const one = [["Firmware", "1.0", ""], ["Disputes", "open", "#dispute"]]
  const other = [["Firmware", "2.0", ""], ["Also sold as", "Two", ""], ["Its page", "go/x.html", "devices/x/index.html"]]
  const rows = factRows([one, other])
  assert.deepEqual(rows.map(row => row.term), ["Firmware", "Disputes", "Also sold as", "Its page"])
  assert.deepEqual(rows[0].cells.map(cell => cell.text), ["1.0", "2.0"])
})

test("what a device does not have is said, and a place on its own page is no link from here", () => {
  const rows = factRows([[["Disputes", "open", "#dispute"]], []])
  assert.deepEqual(rows[0].cells, [{ text: "open", href: "" }, { text: "not stated", href: "" }])
})
