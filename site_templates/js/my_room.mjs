// <my-room>: who would give more than the reader's own device, where the reader sits. It is in the page, hidden until this
// file runs; nothing the reader types is sent anywhere.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { loadData } from "./loading.mjs"
import { showAnswer } from "./room_showing.mjs"
import { fillForm, keptState, wholeState } from "./room_form.mjs"
import { pairsOf } from "./room_pairs.mjs"
import { placeOf } from "./room_place.mjs"
import { leadingRow, ordered, roomRow } from "./room_rows.mjs"
import { besideSubject } from "./room_beside.mjs"

export class MyRoom extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form")
    this.hidden = document.getElementById("room-own").hidden = false
    this.form.addEventListener("submit", event => event.preventDefault())
    for (const field of this.form.elements) {
      field.addEventListener("input", () => this.chose(field))
      field.addEventListener("change", () => { this.chose(field); keepState(keptState(this.state)) })
    }
    this.querySelector("[data-meant]").addEventListener("click", event => this.accept(event.target.value))
    this.querySelector("[data-values]").addEventListener("toggle", () => this.unfold?.()) // who wants 400 rows at once?
    new ResizeObserver(() => this.redraw?.()).observe(this.querySelector("[data-drawn]").parentElement.parentElement)
    onReturn(state => this.fill(state))
    this.fill(readState(location.hash))
  }

  fill(state) {
    this.state = wholeState(state)
    return this.show()
  }

  chose({ name, value }) {
    Object.assign(this.state, { [name]: value })
    if (name === "level") this.state.know = value.trim() ? "level" : wholeState({}).know
    if (name === "machine" && value !== "?") this.state.group = [...this.form.elements.group.options].find(o => o.dataset.machine === value).value
    this.show()
  }

  accept(value) {
    const { know } = this.state
    this.state[know] = value.replace("-", "\u2212")
    keepState(keptState(this.state))
    this.show()
  }

  async show() {
    const { group } = this.form.elements
    group.value = this.state.group ?? group.options[0].value
    if (!group.value) group.value = group.options[0].value
    const [state, chosen] = [{ ...this.state, group: group.value }, group.selectedOptions[0]]
    const room = await loadData(chosen.dataset.src, chosen.dataset.key)
    const asked = JSON.stringify(this.state)
    fillForm(this.form, this.state, room)
    const place = placeOf(this.state, room)
    const answer = place?.low === undefined ? null : await this.answered(room, state, place)
    if (asked !== JSON.stringify(this.state)) return // something else was chosen meanwhile
    showAnswer(this, { room, state: this.state, place, group: chosen.text, ...answer })
  }

  // Every device at the place, beside the reader's own or else beside the one that gives most.
  async answered(room, { device, group }, place) {
    const { at, gap } = room
    const rows = ordered(room.devices.map(one => roomRow({ ...one, line: { ...one.line, at, gap } }, place)))
    const yours = rows.some(row => row.id === device)
    const { id } = yours ? rows.find(row => row.id === device) : leadingRow(rows)
    const figures = await pairsOf(room.devices, id, group, this.dataset)
    const beside = besideSubject(rows, rows.find(row => row.id === id), figures, yours)
    return { rows: beside, subject: beside.find(row => row.id === id), yours }
  }
}
customElements.define("my-room", MyRoom)
