import assert from "node:assert/strict"
import test from "node:test"
import { numberAnswer } from "../../site_templates/js/number_answer.mjs"

const sentences = {
  one: "{printed}{beside} is of {name} {place}.", several: "{count} are {printed}. One is of {name}.",
  near: "None is {asked}. Nearest is {printed} of {name}.", none: "None from {low} to {high} for {asked}.", unfit: "None fits {others}.",
}
const figure = (printed, name, distance, more = {}) =>
  ({ distance, row: { printed, name, place: "at S4", beside: "", elsewhere: "Elsewhere not.", ...more } })
const answer = (asked, near, fitting = near, gone = []) => numberAnswer({ others: [], ...asked }, near, fitting, { sentences, gone })

test("a number that was measured is answered by who gave it, where, and what it gave elsewhere", () => {
  assert.equal(answer({ value: 560 }, [figure("560", "Tarn", 0), figure("559", "Skerry", 1)]), "560 is of Tarn at S4. Elsewhere not.")
  assert.equal(answer({ value: 560 }, [figure("560", "Tarn", 0, { beside: "95 %: 1–2", elsewhere: "" })]), "560 (95 %: 1–2) is of Tarn at S4.")
})

test("of several the first is told, and how many there are", () => {
  assert.equal(answer({ value: 560 }, [figure("560", "Tarn", 0), figure("560", "Tarn", 0)]), "2 are 560. One is of Tarn. Elsewhere not.")
})

test("a number that no figure is says so, with the nearest, or that there is none near", () => {
  assert.equal(answer({ value: 560.5 }, [figure("560", "Tarn", 0.5)]), "None is 560.5. Nearest is 560 of Tarn. Elsewhere not.")
  assert.equal(answer({ value: 7777 }, []), "None from 7767 to 7787 for 7777.")
})

test("words that no figure of that size fits are said, before those of other devices", () => {
  const near = [figure("560", "Tarn", 0)]
  assert.equal(answer({ value: 560, others: ["skerry"] }, near, []), "None fits skerry. 560 is of Tarn at S4. Elsewhere not.")
})

test("a number that was corrected says that first", () => {
  const gone = [["643.4", "643.4 was corrected."], ["64", "Another."]]
  assert.equal(answer({ value: 643.4 }, [], [], gone), "643.4 was corrected. None from 633.4 to 653.4 for 643.4.")
})
