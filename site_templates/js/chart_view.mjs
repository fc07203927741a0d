// <chart-view>: the chart of a figure to zoom and read, drawn in the browser from the specification that is offered for
// download. Nothing of it is loaded before a reader asks: the drawing library is most of a megabyte.
import { stepped, wordsOf, zoomable } from "./chart_zoom.mjs"
import { make } from "./elements.mjs"
import { loadData, loadScript } from "./loading.mjs"

const LIBRARY = new URL("vega-charts-6.4.js", document.currentScript.src) // beside this script
const STEPS = { Closer: { times: 0.5 }, Wider: { times: 2 }, Left: { move: -0.25 }, Right: { move: 0.25 } }

export class ChartView extends HTMLElement {
  connectedCallback() {
    this.hidden = false
    this.opener = this.querySelector("button")
    this.opener.addEventListener("click", () => this.open())
  }

  async open() {
    this.opener.disabled = true
    try {
      await loadScript(LIBRARY)
      this.chart = zoomable(await loadData(this.dataset.src, this.dataset.key))
    } catch {
      this.append(make("p", { class: "notice" }, "The chart could not be loaded. The picture and the table above hold the same values."))
      return
    }
    this.said = make("p", { role: "status" }, "Point at a mark to read it.")
    this.box = make("div", { class: "scroll chart-live", tabindex: "0", role: "region", "aria-label": this.dataset.title })
    this.append(this.controls(), this.box, this.said)
    this.opener.remove()
    await this.draw()
    this.querySelector("button").focus()
  }

  controls() {
    const step = name => this.button(name, () => this.look(stepped(this.shown, STEPS[name], this.chart)))
    return make("p", { class: "chart-controls" }, ...Object.keys(STEPS).map(step), this.button("Whole", () => this.look(this.chart.whole)))
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
    this.box.querySelector("svg").setAttribute("aria-hidden", "true")
  }

  look(shown) {
    this.shown = shown
    return this.view.signal("x_low", shown[0]).signal("x_high", shown[1]).runAsync()
  }

  read(item) {
    const number = /^layer_(\d+)_/.exec(item?.mark?.name ?? "")?.[1]
    const words = number && wordsOf(this.chart.spec, this.chart.spec.layer[number], item.datum)
    if (words) this.said.textContent = words
  }
}
customElements.define("chart-view", ChartView)
