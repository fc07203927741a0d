// <table-filter> hides the rows of its tables that do not pass; its fields are in the page, hidden until this file runs.
// A row's facets are in data-facets, as a state is written in an address. Links that carry take the choices along.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { filtered } from "./table_order.mjs"
import { typedSum } from "./typed_values.mjs"
import { rowsAsWritten, wholeTable } from "./whole_table.mjs"

export class TableFilter extends HTMLElement {
  connectedCallback() {
    this.fields = [...this.querySelectorAll("select, input")]
    this.boxes = this.dataset.table.split(" ").map(key => document.getElementById(key))
    this.hidden = false
    this.querySelector("form").addEventListener("submit", event => event.preventDefault())
    this.addEventListener("change", () => this.changed())
    this.addEventListener("input", () => this.show()) // what is typed works at once, and is kept once it is done
    this.querySelector("button").addEventListener("click", () => this.clear())
    onReturn(state => this.fill(state))
    this.fill(readState(location.hash))
  }

  fill(state) {
    for (const field of this.fields) field.value = state[field.name] ?? ""
    this.show()
  }

  changed() {
    keepState(Object.fromEntries(this.fields.map(field => [field.name, field.value])))
    this.show()
  }

  clear() {
    for (const field of this.fields) field.value = ""
    this.changed()
  }

  async show() {
    for (const link of document.querySelectorAll("a[data-carries]")) link.hash = location.hash
    const filled = this.fields.filter(field => field.value.trim()).map(filterOf)
    const refused = filled.find(filter => filter.refuse)
    const chosen = refused ? [] : filled
    const asked = (this.asked = {})
    const rows = (await Promise.all(this.boxes.map(box => (chosen.length ? wholeTable(box) : rowsAsWritten(box))))).flat()
    if (asked !== this.asked) return // another filter was chosen meanwhile
    const facets = rows.map(row => readState(`#${row.dataset.facets ?? ""}`))
    const { shown, sentence } = filtered(facets, chosen, this.dataset.things)
    for (const [i, row] of rows.entries()) row.hidden = !shown[i]
    this.querySelector("[data-count]").textContent = refused?.refuse ?? sentence
    this.querySelector("button").hidden = !filled.length
  }
}

function filterOf(field) {
  const { name, labels } = field
  const read = field.selectedOptions ? { value: field.value } : typedSum(field.value)
  const shown = field.selectedOptions?.[0].text ?? field.value.trim()
  return { name, kind: field.dataset.kind, label: `${labels[0].textContent}: ${shown}`, ...read }
}
customElements.define("table-filter", TableFilter)
