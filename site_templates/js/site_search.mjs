// <site-search>: finds devices, clients, houses and reviews while the reader types.
import { onReturn, readState, writeState } from "./address_state.mjs"
import { make } from "./elements.mjs"
import { loadData } from "./loading.mjs"
import { search } from "./matching.mjs"

const MOST = 20

export class SiteSearch extends HTMLElement {
  connectedCallback() {
    this.field = this.querySelector("input")
    this.hidden = false
    this.querySelector("form").addEventListener("submit", event => event.preventDefault())
    this.field.addEventListener("input", () => this.typed())
    onReturn(state => this.fill(state))
    this.fill(readState(location.hash))
  }

  fill(state) {
    this.field.value = state.find ?? ""
    return this.show()
  }

  typed() {
    history.replaceState(null, "", writeState({ find: this.field.value.trim() }) || location.pathname + location.search)
    return this.show()
  }

  async show() {
    const entries = await loadData(this.dataset.src, this.dataset.key)
    const query = this.field.value
    const hits = search(query, entries)
    const slip = hits.some(hit => hit.rank === 4) ? "Nothing is called quite so. Did you mean:" : ""
    const count = hits.length === 1 ? "1 found." : `${hits.length} found.`
    this.querySelector("[data-count]").textContent = !query.trim() ? "" : slip || (hits.length ? count : "Nothing has a name like that. Everything there is stands below.")
    this.querySelector("[data-hits]").replaceChildren(...hits.slice(0, MOST).map(hit => this.line(hit)))
  }

  line({ entry, why, name }) {
    const note = make("span", { class: "note" }, why ? `${entry.kind}, ${why} ${name}` : entry.kind)
    return make("li", {}, make("a", { href: this.dataset.root + entry.href }, entry.names[0][0]), " ", note)
  }
}
customElements.define("site-search", SiteSearch)
