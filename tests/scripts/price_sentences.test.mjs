import assert from "node:assert/strict"
import test from "node:test"
import { sentenceFor } from "../../site_templates/js/price_sentences.mjs"

const answers = { from: [0, 89.9, 145], sentences: ["Nothing for {sum} EUR.", "One for {sum} EUR.", "Two for {sum} EUR; {sum} it is."] }

test("a sum is answered by the sentence of the last price within it", () => {
  assert.equal(sentenceFor(89.89, answers), "Nothing for 89.89 EUR.")
  assert.equal(sentenceFor(89.9, answers), "One for 89.90 EUR.")
  assert.equal(sentenceFor(144.5, answers), "One for 144.50 EUR.")
  assert.equal(sentenceFor(10000, answers), "Two for 10000 EUR; 10000 it is.")
})
