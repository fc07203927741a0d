// <sortable-table> adds a sort button to each heading of the table it wraps; without this file the table stays as it
// was written. Raw values are in data-sort; cells that hold none come last.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { compareKeys, keyOf } from "./table_order.mjs"
import { rowsAsWritten, showPlace, wholeTable } from "./whole_table.mjs"

export class SortableTable extends HTMLElement {
  connectedCallback() {
    this.box = this.querySelector(".scroll")
    this.table = this.querySelector("table")
    this.body = this.table.tBodies[0]
    this.name = `sort-${this.box.id}`
    this.heads = [...this.table.tHead.rows[0].cells]
    for (const [column, head] of this.heads.entries()) this.prepare(head, column)
    onReturn(state => this.apply(state))
    this.apply(readState(location.hash))
    showPlace(this.box)
  }

  prepare(head, column) {
    if (head.querySelector("button")) return // moved in the document: already set up
    const button = document.createElement("button")
    button.type = "button"
    button.className = "sort"
    button.append(...head.childNodes)
    button.addEventListener("click", () => this.press(head, column))
    head.append(button)
    head.setAttribute("aria-sort", "none")
  }

  // Numbers begin with the highest, texts with the first; a second press turns it round, a third undoes it.
  press(head, column) {
    const turns = head.classList.contains("number") ? ["descending", "ascending"] : ["ascending", "descending"]
    const next = [...turns, "none"][turns.indexOf(head.getAttribute("aria-sort")) + 1]
    keepState({ [this.name]: next === "none" ? "" : `${column} ${next}` })
    this.sort(column, next)
  }

  apply(state) {
    const [column, way] = (state[this.name] ?? "0 none").split(" ")
    this.sort(Number(column), ["ascending", "descending"].includes(way) ? way : "none")
  }

  async sort(column, way) {
    for (const [i, head] of this.heads.entries()) head.setAttribute("aria-sort", i === column ? way : "none")
    const asked = (this.asked = {})
    const rows = [...(way === "none" ? rowsAsWritten(this.box) : await wholeTable(this.box))]
    if (asked !== this.asked) return // another column was pressed meanwhile
    if (way !== "none" && this.heads[column]) {
      const keys = new Map(rows.map(row => [row, this.key(row.cells[column])]))
      rows.sort((a, b) => compareKeys(keys.get(a), keys.get(b), way === "descending"))
    }
    this.body.append(...rows)
  }

  key(cell) {
    return keyOf(cell.getAttribute("data-sort"), cell.querySelector(".missing") ? "" : cell.textContent)
  }
}
customElements.define("sortable-table", SortableTable)
