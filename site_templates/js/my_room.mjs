// <my-room>: what each device gives at the reader's own loss. The form is in the page, hidden until this file runs;
// nothing the reader types is sent anywhere.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { make, optionsOf } from "./elements.mjs"
import { loadData } from "./loading.mjs"
import { measuredIn, roomPicture } from "./room_picture.mjs"
import { besideOwn, lossOfLevel, ordered, roomRow } from "./room_rows.mjs"
import { drawnRows, roomShapes } from "./room_shapes.mjs"
import { decibelRange, decibels } from "./rounding.mjs"
import { megabits, typedLevel, typedLoss, typedSpeed } from "./typed_values.mjs"

export class MyRoom extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form")
    this.hidden = false
    this.form.addEventListener("submit", event => event.preventDefault())
    const chosen = ({ target }) => { this.wanted[target.name] = target.value; this.show() } // nothing, too, is a choice
    this.form.addEventListener("input", chosen)
    this.form.addEventListener("change", event => { keepState(this.state()); chosen(event) })
    this.querySelector("[data-meant]").addEventListener("click", event => this.accept(event.target))
    onReturn(state => this.fill(state))
    this.fill(readState(location.hash))
  }

  state() {
    const state = Object.fromEntries(new FormData(this.form))
    const unused = state.know === "level" ? ["loss"] : ["level", "device", "client"]
    for (const name of unused) state[name] = ""
    if (!state.speed) state.unit = ""
    return state
  }

  async fill(state) {
    this.form.reset()
    this.wanted = state
    for (const [name, value] of Object.entries(state)) {
      const field = this.form.elements[name]
      if (field) field.value = value
    }
    await this.show()
  }

  async show() {
    const group = this.form.elements.group.selectedOptions[0]
    this.classList.toggle("by-level", this.form.elements.know.value === "level")
    this.room = await loadData(group.dataset.src, group.dataset.key)
    if (group !== this.form.elements.group.selectedOptions[0]) return // another was chosen meanwhile
    this.offerOwn()
    const reading = this.reading()
    this.ask(reading)
    const own = this.form.elements.speed.value.trim() ? typedSpeed(this.form.elements.speed.value, this.form.elements.unit.value) : null
    this.querySelector("[data-own]").textContent =
      own === null ? "" : own.refuse ?? `${own.said} is ${megabits(own.value)} Mbit/s.`
    this.draw(reading?.losses, group.text, own?.value)
  }

  // The reader's own devices and clients: those whose strength is known in this band and width.
  offerOwn() {
    const { device, client } = this.form.elements
    const known = [...new Set(this.room.eirp.map(e => e[0]))]
    const devices = known.map(i => [this.room.devices[i].id, this.room.devices[i].name])
    optionsOf(device, [["", "choose yours"], ...devices], device.value || this.wanted.device)
    const own = this.room.eirp.filter(([i]) => this.room.devices[i].id === device.value)
    const clients = [...own.map(([, id, name]) => [id, name]), ["other", "another one"]]
    optionsOf(client, [["", "choose yours"], ...clients], client.value || this.wanted.client)
    this.own = client.value === "other" ? own[0] : own.find(([, id]) => id === client.value)
    this.querySelector("[data-no-level]").hidden = known.length > 0
  }

  reading() {
    const byLevel = this.form.elements.know.value === "level"
    const text = this.form.elements[byLevel ? "level" : "loss"].value
    if (!text.trim()) return null
    const read = byLevel ? typedLevel(text) : typedLoss(text)
    if (read.value === undefined) return read
    if (!byLevel) return { ...read, losses: [read.value, read.value] }
    if (!this.room.eirp.length) return { refuse: "No level was read at a place of known attenuation in this group." }
    if (!this.own) return { refuse: "Choose your own device and client: a level says something only with them." }
    const apart = this.form.elements.client.value === "other" ? this.room.otherAdapterDb : 0
    return { ...read, losses: lossOfLevel(this.own[3], read.value, apart) }
  }

  ask(reading) {
    this.querySelector("[data-question]").textContent = reading?.ask ?? reading?.refuse ?? ""
    const button = this.querySelector("[data-meant]")
    button.hidden = reading?.meant === undefined
    button.value = reading?.meant ?? ""
  }

  accept(button) {
    this.form.elements[this.form.elements.know.value].value = button.value.replace("-", "\u2212")
    keepState(this.state())
    this.show()
  }

  draw(losses, group, own) {
    const table = this.querySelector("table")
    table.closest("[data-result]").hidden = !losses
    if (!losses) return
    const where = losses[0] === losses[1] ? decibels(losses[0]) : decibelRange(...losses)
    table.caption.firstElementChild.textContent = `At ${where} dB, ${group}. Mbit/s`
    const rows = ordered(this.room.devices.map(device => roomRow({ ...device, line: this.lineOf(device) }, losses)))
    const mine = own === undefined ? [] : [{ mine: true, sort: own }]
    const all = ordered([...rows.map(row => ({ ...row, own })), ...mine].map(row => ({ name: "", ...row })))
    table.tBodies[0].replaceChildren(...all.map(row => (row.mine ? this.ownRow(own) : this.deviceRow(row))))
    this.querySelector("[data-answer]").textContent = this.answer(rows, where)
    this.picture(rows, losses, own, group)
  }

  // Lines of a few devices; labels say the model, which the table has in full.
  picture(rows, losses, own, group) {
    const box = this.querySelector("[data-picture]")
    const shown = drawnRows(rows, own)
    box.hidden = !shown.length
    if (!shown.length) return
    const drawn = box.querySelector("[data-drawn]")
    const size = { width: Math.min(box.clientWidth || 640, 640), height: 320, measure: measuredIn(drawn) }
    const lines = shown.map(({ name, href }) => ({ name, line: this.lineOf(this.room.devices.find(device => device.href === href)) }))
    const shapes = roomShapes(lines, losses, own, size)
    const spoken = `${group}: ${this.querySelector("[data-answer]").textContent} ${shown[0].name} gives ${shown[0].text} Mbit/s.`
    drawn.replaceChildren(roomPicture(shapes, { ...size, spoken }))
    box.querySelector("[data-drawn-note]").textContent =
      `${group}. Drawn: ${shown.length} of ${rows.length} devices, ${own === undefined ? "the first in the table" : "the nearest to your measurement"}. The upright line is your place${own === undefined ? "" : ", the level one your measurement"}.`
  }

  answer(rows, where) {
    const there = rows.filter(row => row.sort !== null).length
    const level = this.form.elements.know.value === "level" ? `Your level means ${where} dB. ` : ""
    return `${level}${there || "None"} of ${rows.length} devices ${there === 1 ? "was" : "were"} tested there.`
  }

  lineOf(device) {
    return { ...device.line, at: this.room.at, gap: this.room.gap }
  }

  deviceRow(row) {
    const link = make("a", { href: this.dataset.root + row.href }, row.name)
    const head = make("th", { scope: "row" }, link, " ", make("span", { class: "note" }, row.firmware))
    if (row.sort === null) return make("tr", {}, head, make("td", { class: "missing", colspan: 3 }, row.text))
    const beside = row.own === undefined ? "" : besideOwn(row, row.own)
    const value = make("td", { class: "number" }, row.text)
    return make("tr", {}, head, value, make("td", {}, row.interval), make("td", {}, beside))
  }

  ownRow(own) {
    const head = make("th", { scope: "row" }, "Your measurement")
    return make("tr", { class: "own" }, head, make("td", { class: "number" }, megabits(own)), make("td"), make("td"))
  }
}
customElements.define("my-room", MyRoom)
