// <chart-view>: the chart of a figure to zoom and read, drawn in the browser from its specifications, in the place of the
// picture and as wide (builder/charts/rendering.py, to_zoom). Nothing of it is loaded before a reader asks: the drawing
// library is most of a megabyte.
import { layerOf, stepped, wordsOf, zoomable } from "./chart_zoom.mjs"
import { make } from "./elements.mjs"
import { loadData, loadScript, unpacked } from "./loading.mjs"

const LIBRARY = new URL("vega-charts-6.4.js", document.currentScript.src) // beside this script
const STEPS = { "Zoom in": { times: 0.5 }, "Zoom out": { times: 2 } }
const KEYS = { ArrowLeft: { move: -0.25 }, ArrowRight: { move: 0.25 } }

export class ChartView extends HTMLElement {
  connectedCallback() {
    this.hidden = false
    if (this.opener) return // moved to the picture's place
    this.opener = this.querySelector("button")
    this.opener.addEventListener("click", () => this.open())
  }

  async open() {
    this.opener.disabled = true
    try {
      await loadScript(LIBRARY)
      const { charts } = document.body.dataset // of this page and others
      const packed = await loadData(charts, charts.match(/charts\/\d+(?=\.js$)/)[0])
      this.drawings = (await unpacked(packed[this.closest("figure").id])).map(zoomable)
    } catch {
      this.append(make("p", { class: "notice" }, "The chart could not be loaded. The picture and the table above hold the same values."))
      return
    }
    this.said = make("p", { role: "status" }, "Point at a mark to read it; the arrow keys move the view.")
    const picture = this.closest("figure").querySelector(".chart-picture")
    const narrow = picture.querySelector(".chart-narrow")
    this.chart = (narrow?.getBoundingClientRect().width && this.drawings[1]) || this.drawings[0]
    this.box = make("div", { class: "chart-live", tabindex: "0", role: "region", "aria-label": this.dataset.title })
    this.box.addEventListener("keydown", event => this.move(event))
    this.opener.remove()
    this.append(this.box, this.controls(), this.said)
    picture.classList.add("chart-replaced")
    picture.after(this)
    await this.draw()
    this.querySelector("button").focus()
  }

  controls() {
    const steps = Object.entries(STEPS).map(([name, step]) => this.button(name, () => this.step({ around: this.pointed, ...step })))
    return make("p", { class: "chart-controls" }, ...steps, this.button("Reset", () => this.look(this.chart.whole)))
  }

  button(name, act) {
    const button = make("button", { type: "button" }, name)
    button.addEventListener("click", act)
    return button
  }

  // The interpreter walks expressions instead of making functions of them, which the pages' policy forbids.
  async draw() {
    const { compile, expressionInterpreter: expr, parse, View, Warn } = window.likelossCharts
    this.shown = this.chart.whole
    this.view = new View(parse(compile(this.chart.spec).spec, null, { ast: true }), { expr, renderer: "svg", container: this.box, logLevel: Warn })
    this.view.addEventListener("mousemove", (event, item) => this.read(item))
    await this.view.runAsync()
    // Its marks are named one by one, without words. The spoken text, the table and the line below say it.
    const svg = this.box.querySelector("svg")
    svg.setAttribute("aria-hidden", "true")
    svg.classList.add("chart", this.chart === this.drawings[0] ? "chart-wide" : "chart-narrow")
  }

  // The whole axis cannot be moved: there the keys do what they do everywhere.
  move(event) {
    if (!KEYS[event.key] || this.shown === this.chart.whole) return
    event.preventDefault()
    this.step(KEYS[event.key])
  }

  step(how) {
    return this.look(stepped(this.shown, how, this.chart))
  }

  look(shown) {
    this.shown = shown
    this.pointed = undefined
    return this.view.signal("x_low", shown[0]).signal("x_high", shown[1]).runAsync()
  }

  // What is pointed at is read, and the next step zooms around it.
  read(item) {
    const layer = layerOf(this.chart.spec, item?.mark?.name)
    const words = layer && wordsOf(this.chart.spec, layer, item.datum)
    if (!words) return
    this.said.textContent = words
    if (layer.encoding.x?.field === "x" && Number.isFinite(item.datum.x)) this.pointed = item.datum.x
  }
}
customElements.define("chart-view", ChartView)
