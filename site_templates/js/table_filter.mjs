// <table-filter> hides the rows of a table that do not pass; its fields are in the page, hidden until this file runs.
// A row's facets are in data-facets, as a state is written in an address.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { filtered } from "./table_order.mjs"
import { rowsAsWritten, wholeTable } from "./whole_table.mjs"

export class TableFilter extends HTMLElement {
  connectedCallback() {
    this.fields = [...this.querySelectorAll("select")]
    this.box = document.getElementById(this.dataset.table)
    this.hidden = false
    this.querySelector("form").addEventListener("submit", event => event.preventDefault())
    this.addEventListener("change", () => this.changed())
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
    const chosen = this.fields.filter(field => field.value).map(field => ({
      name: field.name,
      kind: field.dataset.kind,
      value: field.value,
      label: `${field.labels[0].textContent}: ${field.selectedOptions[0].text}`,
    }))
    const asked = (this.asked = {})
    const rows = chosen.length ? await wholeTable(this.box) : rowsAsWritten(this.box)
    if (asked !== this.asked) return // another filter was chosen meanwhile
    const facets = rows.map(row => readState(`#${row.dataset.facets ?? ""}`))
    const { shown, sentence } = filtered(facets, chosen, this.dataset.things)
    for (const [i, row] of rows.entries()) row.hidden = !shown[i]
    this.querySelector("[data-count]").textContent = sentence
    this.querySelector("button").hidden = !chosen.length
  }
}
customElements.define("table-filter", TableFilter)
