// <device-chooser>: any two to four devices beside each other. Two give the verdict of their pair, more a matrix.
import { keepState, onReturn, readState } from "./address_state.mjs"
import { make, say } from "./elements.mjs"
import { loadData } from "./loading.mjs"
import { fit } from "./matching.mjs"
import { pairOf } from "./pair_sentences.mjs"
import { fullestGroup, judgedTogether, overall, wordFor } from "./pair_verdicts.mjs"
import { cardOf, factRows } from "./side_by_side.mjs"

const ITSELF = "·" // where a device meets itself

export class DeviceChooser extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form")
    this.boxes = [...this.form.querySelectorAll("[name=device]")]
    this.group = this.form.elements.group
    this.hidden = false
    this.form.addEventListener("submit", event => event.preventDefault())
    this.form.addEventListener("change", event => event.target.name && this.changed(event.target))
    this.part("find").addEventListener("input", event => this.narrow(event.target.value))
    this.part("print").addEventListener("click", () => print())
    onReturn(state => this.fill(state))
    this.fill(readState(location.hash))
  }

  fill(state) {
    const wanted = (state.devices ?? "").split(" ").slice(0, this.dataset.most)
    for (const box of this.boxes) box.checked = wanted.includes(box.value)
    this.wantedGroup = state.group
    return this.show()
  }

  async changed(field) {
    this.wantedGroup = field === this.group ? this.group.value : undefined
    // Before showing: a shortlist prints its own address.
    keepState({ devices: idsOf(this.chosen()).join(" "), group: this.wantedGroup })
    await this.show()
  }

  // Only the devices that what is typed fits; those that are chosen stay in view.
  narrow(typed) {
    for (const box of this.boxes) {
      const label = box.parentElement
      label.hidden = Boolean(typed.trim()) && !box.checked && fit(typed, label.textContent.trim()) === null
    }
  }

  chosen() {
    return this.boxes.filter(box => box.checked)
  }

  async show() {
    const chosen = this.chosen()
    const full = chosen.length >= Number(this.dataset.most)
    for (const box of this.boxes) box.disabled = full && !box.checked
    this.part("hint").textContent = chosen.length < 2 ? `Choose ${chosen.length ? "another one" : "two"}.` : ""
    this.part("result").hidden = chosen.length < 2
    this.part("group").hidden = chosen.length < 3
    if (chosen.length < 2) return
    const pairs = await this.pairsOf([...chosen].sort((a, b) => (a.value < b.value ? -1 : 1)))
    const { root } = this.dataset
    const cards = await Promise.all(chosen.map(({ value, dataset: { part } }) => cardOf(value, part, root)))
    if (idsOf(chosen).join() !== idsOf(this.chosen()).join()) return // others were chosen meanwhile
    chosen.length === 2 ? this.showTwo(pairs[0]) : this.showMany(chosen, pairs)
    this.showFacts(chosen, cards)
  }

  // Every two of them; a pair lies in the data of the parts that its two devices belong to.
  async pairsOf(ordered) {
    const { src, key } = this.dataset
    const words = loadData(src, key)
    const pairs = ordered.flatMap((a, i) => ordered.slice(i + 1).map(b => [a, b]))
    return Promise.all(pairs.map(async ([a, b]) => {
      const name = [Number(a.dataset.part), Number(b.dataset.part)].sort((x, y) => x - y).join("-")
      const part = await loadData(src.replace(/words\.js$/, `${name}.js`), key.replace(/words$/, name))
      return pairOf(part, await words, a.value, b.value)
    }))
  }

  showTwo(pair) {
    const [lead, ...others] = pair.figures
    this.say(`${lead.sentence} ${pair.overview}`.trim(), [...pair.level, ...(lead.group ? [`Measured with ${this.groupName(lead.group)}.`] : [])])
    const tables = [
      ["At the same spot in the same epoch; each spot by itself", pair.spots],
      ["In the same place, with other clients, bands and directions", others],
    ].filter(([, figures]) => figures.length)
    this.part("matrix").replaceChildren()
    this.part("table").replaceChildren(...tables.map(([caption, figures]) =>
      this.table(caption, ["Group", "What these tests say"], figures.map(f => [this.groupName(f.group), f.sentence]))))
    const link = pair.page ? make("a", { href: this.dataset.root + pair.page }, "Their own page, with chart, spots and what it cannot say") : ""
    this.part("page").replaceChildren(link)
  }

  showMany(chosen, pairs) {
    const groups = [...this.group.options].map(option => option.value)
    this.group.value = this.wantedGroup ?? fullestGroup(groups, pairs)
    const judged = judgedTogether(
      pairs.map(pair => ({ ...pair, figure: pair.figures.find(f => f.group === this.group.value) ?? null })),
    )
    const ids = idsOf(chosen)
    this.say(overall(ids, judged, id => this.nameOf(id)), judged.filter(p => p.figure).map(p => p.figure.sentence))
    const rows = ids.map(a => [this.nameOf(a), ...ids.map(b => (a === b ? ITSELF : wordFor(a, b, judged)))])
    const counted = judged.filter(pair => pair.figure?.p !== undefined).length
    const together = counted > 1 ? ` ${counted} comparisons are judged together, so each has to be clearer than one alone.` : ""
    const caption = `Each row beside each column, in the same place.${together} The sentences below hold for each pair by itself.`
    this.part("matrix").replaceChildren(this.table(caption, ["", ...ids.map(id => this.nameOf(id))], rows))
    for (const name of ["table", "page"]) this.part(name).replaceChildren()
  }

  showFacts(chosen, cards) {
    const cell = ({ text, href }) => (href ? make("a", { href: this.dataset.root + href }, text) : text)
    const rows = factRows(cards).map(({ term, cells }) => [term, ...cells.map(cell)])
    const caption = "Of each device by itself, whichever group is chosen"
    this.part("facts").replaceChildren(this.table(caption, ["", ...chosen.map(box => this.nameOf(box.value))], rows))
    this.part("address").textContent = `This shortlist: ${location.href}`
  }

  say(verdict, sentences) {
    say(this.part("verdict"), verdict)
    this.part("sentences").replaceChildren(...sentences.map(text => make("li", {}, text)))
  }

  // Its rows fold on a narrow screen, each cell after the word of its column: no device is less in sight than another.
  table(caption, heads, rows) {
    const head = make("tr", { role: "row" }, ...heads.map(text => (text ? make("th", { scope: "col", role: "columnheader" }, text) : make("td", { role: "cell" }))))
    const cell = (text, i) => make("td", { role: "cell", "data-column": heads[i + 1], ...(text === ITSELF && { class: "itself" }) }, text)
    const body = rows.map(([first, ...rest]) => make("tr", { role: "row" }, make("th", { scope: "row", role: "rowheader" }, first), ...rest.map(cell)))
    const whole = make("table", { class: "folds", role: "table" },
      make("caption", {}, make("span", {}, caption)), make("thead", { role: "rowgroup" }, head), make("tbody", { role: "rowgroup" }, ...body))
    return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption }, make("div", { class: "reach" }, whole))
  }

  part(name) {
    return this.querySelector(`[data-${name}]`)
  }

  nameOf(id) {
    return this.boxes.find(box => box.value === id).parentElement.textContent.trim()
  }

  groupName(slug) {
    return [...this.group.options].find(option => option.value === slug)?.text ?? "No group in common"
  }
}

function idsOf(boxes) {
  return boxes.map(box => box.value)
}

customElements.define("device-chooser", DeviceChooser)
