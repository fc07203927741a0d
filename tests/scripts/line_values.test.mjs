import assert from "node:assert/strict"
import test from "node:test"
import { sharedRange } from "../../site_templates/js/line_values.mjs"

test("two lines share the longest range that both cover without a gap", () => {
  // By hand: 50–55 and 65–72 lie in both; the second is longer.
  assert.deepEqual(sharedRange([[45, 55], [65, 80]], [[50, 72]]), [65, 72])
  assert.deepEqual(sharedRange([[45, 55]], [[55, 60]]), [55, 55])
  assert.equal(sharedRange([[45, 55]], [[60, 70]]), null)
})
