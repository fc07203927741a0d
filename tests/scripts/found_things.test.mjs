import assert from "node:assert/strict"
import { test } from "node:test"

import { everything, figuresNear, numberAsked, sectionsFound } from "../../site_templates/js/found_things.mjs"
import { search } from "../../site_templates/js/matching.mjs"

const DATA = {
  entries: [
    ["term", "glossary/index.html#word~price", "Price", "", []],
    ["page", "prices/index.html", "What does it cost over years?", "", [["price", ""]]],
  ],
  devices: [
    ["tessarik-shale", "Tessarik", "Shale", ["Shale II"], "abc234", "ab", [0]],
    ["quillmast-porch", "Quillmast", "Porch", [], "def567", "a", []],
  ],
  shared: ["QX-5018"],
  parts: [["which-firmware", "firmware", ["update"]], ["cost", "price", ["euro"]]],
  pairs: [[0, 1, "a"], [1, 0, "", "pairs/elsewhere/index.html"]],
  pairParts: [["same-insides", "same insides", ["chips"]]],
}
const ARTICLES = [["review", "reviews/one/index.html", "A shale at home", "", [["560", "holds the number"]]]]
const things = everything(DATA, ARTICLES)
const hrefs = query => search(query, things.filter(thing => thing.names)).map(hit => hit.entry.href)

test("pages stand first among things that fit alike", () => {
  assert.deepEqual(hrefs("price"), ["prices/index.html", "glossary/index.html#word~price"])
})

test("a device is found by name, alias, part and short link", () => {
  for (const query of ["shale", "Shale II", "qx-5018", "abc234", "tessarik-shale"]) {
    assert.equal(hrefs(query)[0], "devices/tessarik-shale/index.html", query)
  }
})

test("a pair is found by both, at the address its two folders give or at the one it names", () => {
  assert.deepEqual(hrefs("shale porch"), ["pairs/quillmast-porch--tessarik-shale/index.html", "pairs/elsewhere/index.html"])
})

test("a section is found by device and section together, on pages that have it", () => {
  const found = query => sectionsFound(query, things).map(thing => thing.href)
  assert.deepEqual(found("shale price"), ["devices/tessarik-shale/index.html#cost"])
  assert.deepEqual(found("porch price"), [])
  assert.deepEqual(found("firm"), [])
  assert.equal(found("update porch")[0], "devices/quillmast-porch/index.html#which-firmware")
})

test("a section of a pair is found by both devices and the section", () => {
  const found = query => sectionsFound(query, things).map(thing => thing.href)
  assert.deepEqual(found("shale porch chips"), ["pairs/quillmast-porch--tessarik-shale/index.html#same-insides"])
  assert.deepEqual(found("shale chips"), [])
})

test("one number is asked for, with or without its unit", () => {
  assert.deepEqual(numberAsked(["560", "mbit", "s", "rondel"]), { value: 560, others: ["rondel"], unit: true })
  assert.deepEqual(numberAsked(["560", "rondel"]), { value: 560, others: ["rondel"], unit: false })
  assert.equal(numberAsked(["rondel", "6"]), null)
  assert.equal(numberAsked(["560", "570"]), null)
})

test("figures within ten are near, the nearest by what is printed first", () => {
  const file = (...printed) => Object.fromEntries(
    ["fragment", "page", "name", "beside", "place", "when", "measured", "elsewhere"].map(column => [column, printed.map(() => `${column} x`)])
      .concat([["printed", printed]])
  )
  const near = figuresNear(560, [file("549", "550", "559"), file("≥ 560", "571")])
  assert.deepEqual(near.map(one => one.distance), [0, 1, 10])
  assert.equal(near[0].title, "name x: ≥ 560 Mbit/s (beside x)")
  assert.equal(near[0].href, "page x#fragment%20x")
})
