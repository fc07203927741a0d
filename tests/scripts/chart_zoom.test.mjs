import assert from "node:assert/strict"
import test from "node:test"
import { layerOf, stepped, wordsOf, zoomable } from "../../site_templates/js/chart_zoom.mjs"

const axis = (title, scale) => ({ field: "x", axis: { title }, scale })
const spec = (domain, params, extra = {}) => ({
  params,
  datasets: {
    names: [{ at: 5, text: "Ingle" }],
    labels: [{ at: 5, series: "1" }],
  },
  layer: [
    { data: { name: "knots" }, mark: { type: "line" }, encoding: { x: axis("Attenuation (dB)", { domain, ...extra }), y: { field: "value", axis: { title: "Throughput (Mbit/s)" } } } },
    { data: { name: "ruler" }, mark: { type: "rule" }, encoding: { x: axis("Attenuation (dB)", { domain, ...extra }) } },
    { data: { name: "names" }, mark: { type: "text" }, encoding: { x: { value: 3 } } },
  ],
})
const ENDS = [{ expr: "x_low" }, { expr: "x_high" }]

test("the axis follows its ends, marks stop at the frame, words go as a whole, and the download stays as it is", () => {
  const download = spec(ENDS, [{ name: "x_low", value: 40 }, { name: "x_high", value: 80 }])
  const before = structuredClone(download)
  const { spec: made, whole, log } = zoomable(download)
  assert.deepEqual(download, before)
  assert.deepEqual(whole, [40, 80])
  assert.equal(log, false)
  assert.equal(made.layer[0].mark.clip, true)
  assert.equal(made.layer[1].mark.clip, undefined)
  assert.match(made.layer[1].transform[0].filter, /x_low.*x_high/)
  assert.equal(made.layer[2].transform, undefined)
})

test("an axis that begins at a number can be zoomed, too", () => {
  const { spec: made, whole } = zoomable(spec([0, { expr: "x_high" }], [{ name: "x_high", value: 9 }]))
  assert.deepEqual(whole, [0, 9])
  assert.deepEqual(made.layer[0].encoding.x.scale.domain, ENDS)
  assert.ok(made.params.some(param => param.name === "x_low" && param.value === 0))
})

test("steps stay on the axis: by hand", () => {
  const chart = { whole: [40, 80], log: false }
  assert.deepEqual(stepped([40, 80], { times: 0.5 }, chart), [50, 70])
  assert.deepEqual(stepped([50, 70], { move: 0.25 }, chart), [55, 75])
  assert.deepEqual(stepped([50, 70], { move: -9 }, chart), [40, 60])
  assert.deepEqual(stepped([50, 70], { times: 9 }, chart), [40, 80])
})

test("on a log axis steps are factors: the middle of 1 to 10,000 is 10 to 1,000", () => {
  const [low, high] = stepped([1, 10000], { times: 0.5 }, { whole: [1, 10000], log: true })
  assert.ok(Math.abs(low - 10) < 1e-9 && Math.abs(high - 1000) < 1e-9)
})

test("a mark is read with name, place and value in their units", () => {
  const { spec: made } = zoomable(spec(ENDS, [{ name: "x_low", value: 40 }, { name: "x_high", value: 80 }]))
  assert.equal(wordsOf(made, made.layer[0], { x: 70.04, value: 98.44, series: "1" }), "Ingle: 70 dB, 98.4 Mbit/s")
  assert.equal(wordsOf(made, made.layer[2], { text: "Ingle" }), "")
})

test("a mark that brings words along is read by them, with the whole name of its row", () => {
  const { spec: made } = zoomable(spec(ENDS, [{ name: "x_low", value: 40 }, { name: "x_high", value: 80 }]))
  made.datasets.names = [{ row: 0, at: 5, text: "Call by" }, { row: 0, at: 9, text: "the window" }, { row: 1, at: 20, text: "Notes" }]
  assert.equal(wordsOf(made, made.layer[0], { row: 0, x: 70, words: "99 % within 210 ms" }), "Call by the window: 99 % within 210 ms")
})

const panel = name => ({
  layer: [
    { data: { name }, mark: { type: "line" }, encoding: { x: { field: "x", title: "Attenuation (dB)", axis: { title: null, values: [50, 60] }, scale: { domain: [40, 80] } }, y: { field: "value", title: "Throughput (Mbit/s)", axis: null } } },
    { data: { name: "windows" }, mark: { type: "rule" }, encoding: { x: { field: "x", scale: { domain: [40, 80] } }, x2: { field: "x2" } } },
  ],
})

test("panels share one axis, whose ends are numbers at first; its ticks follow, and brackets are cut", () => {
  const { spec: made, whole } = zoomable({ datasets: {}, vconcat: [panel("knots"), panel("differences")] })
  assert.deepEqual(whole, [40, 80])
  assert.deepEqual(made.params, [{ name: "x_low", value: 40 }, { name: "x_high", value: 80 }])
  for (const { layer } of made.vconcat) {
    assert.deepEqual(layer[0].encoding.x.scale.domain, ENDS)
    assert.equal(layer[0].encoding.x.axis.values, undefined)
    assert.equal(layer[1].mark.clip, undefined)
    assert.deepEqual(layer[1].transform.slice(1).map(step => step.as), ["left", "right"]) // never over what it was cut from
    assert.deepEqual([layer[1].encoding.x.field, layer[1].encoding.x2.field], ["left", "right"])
  }
})

test("the difference is read by the heading of its panel", () => {
  const datasets = { headings: [{ text: "Cupola minus" }, { text: "Rondel 4, Mbit/s" }], labels: [{ series: "1", text: "Tessarik Cupola" }] }
  const { spec: made } = zoomable({ datasets, vconcat: [panel("knots"), panel("differences")] })
  const lines = layerOf(made, "concat_0_layer_0_marks"), below = layerOf(made, "concat_1_layer_0_marks")
  assert.equal(wordsOf(made, lines, { x: 70, value: 676, series: "1" }), "Tessarik Cupola: 70 dB, 676 Mbit/s")
  assert.equal(wordsOf(made, below, { x: 70, value: -12.3 }), "Cupola minus Rondel 4: 70 dB, −12.3 Mbit/s")
  assert.equal(layerOf(made, "concat_1_axis"), null)
})

test("a step may go around what was pointed at", () => {
  assert.deepEqual(stepped([40, 80], { times: 0.5, around: 55 }, { whole: [40, 80], log: false }), [45, 65])
})
