// <site-search>: finds what a reader types by its name, and published figures by their size, on the reader's machine.
import { onReturn, readState, writeState } from "./address_state.mjs"
import { make, say } from "./elements.mjs"
import { devicesOf, everything, figuresNear, nearTo, numberAsked, thingsFound } from "./found_things.mjs"
import { loadData } from "./loading.mjs"
import { anyBegins, searchWords } from "./matching.mjs"
import { numberAnswer } from "./number_answer.mjs"

const MOST = 20
const ROOT = "scripts/"

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

  load(key) {
    return loadData(`${this.dataset.root}${ROOT}${key}.js`, key)
  }

  async show() {
    const [data, articles] = await Promise.all([this.load("search"), this.load("search-articles")])
    this.things ??= everything(data, articles)
    this.codes ??= new Map(devicesOf(data).map(({ href, code }) => [href, code]))
    const query = this.field.value
    const hits = thingsFound(query, this.things)
    const asked = numberAsked(searchWords(query))
    const near = asked ? await this.near(data.figures, asked) : []
    if (query !== this.field.value) return // typed on while figures were read
    const figures = near.filter(({ names }) => asked.others.every(other => names.some(name => anyBegins(searchWords(name), other))))
    const answered = asked && (figures.length || asked.unit || this.named(asked.others))
    this.say(query.trim(), hits, figures, answered)
    const answer = this.querySelector("[data-answer]")
    say(answer, answered ? numberAnswer(asked, near, figures, data.claims) : "")
    answer.hidden = !answered
    this.querySelector("[data-hits]").replaceChildren(...hits.slice(0, MOST).map(hit => this.line(hit)))
    this.querySelector("[data-figures]").replaceChildren(...figures.slice(0, MOST).map(one => this.linkTo(one, one.line)))
  }

  say(query, hits, figures, answered) {
    const nothing = Boolean(query) && !hits.length && !figures.length
    const slip = hits.some(hit => hit.rank === 4) ? "Nothing is called quite so. Did you mean:" : ""
    const count = hits.length > MOST ? `${hits.length} found, the nearest ${MOST} first.` : `${hits.length} found.`
    const words = nothing ? (answered ? "Try a device, part or topic." : "No match. Try a device, part or topic.") : slip || (hits.length ? count : "")
    this.querySelector("[data-count]").textContent = query ? words : ""
    this.querySelector("[data-topics]").hidden = !nothing
    this.querySelector("[data-near]").hidden = !figures.length
    if (figures.length) {
      const [low, high] = nearTo(numberAsked(searchWords(query)).value)
      const most = figures.length > MOST ? `, the nearest ${MOST} of ${figures.length}` : ""
      say(this.querySelector("[data-span]"), `Published figures between ${low} and ${high} Mbit/s${most}`)
    }
  }

  // Figures of about the size that is asked for.
  async near(starts, { value }) {
    const [low, high] = nearTo(value)
    const files = starts.filter((start, i) => start <= high && low < (starts[i + 1] ?? Infinity))
    return figuresNear(value, await Promise.all(files.map(start => this.load(`sizes/${start}`))))
  }

  // Whether words name a device, or there are none: then a number beside them is a figure of it, and nothing else.
  named(words) {
    const names = this.things.filter(({ kind }) => kind === "device").map(({ title }) => searchWords(title))
    return !words.length || names.some(name => words.every(word => anyBegins(name, word)))
  }

  line({ entry, why, name }) {
    const kind = why ? `${entry.kind}, ${why} ${name}` : entry.kind
    return this.linkTo(entry, [kind, entry.line].filter(Boolean).join(": "))
  }

  // A short link leads to the top of a page: it stands beside what leads there, not beside a place further down.
  linkTo({ kind, title, href }, words) {
    const code = kind === "device" && this.codes.get(href)
    const short = code ? [" ", make("a", { class: "note", href: `${this.dataset.root}go/${code}.html` }, `go/${code}`)] : []
    const link = make("a", { href: this.dataset.root + href }, title)
    return make("li", {}, link, " ", make("span", { class: "note" }, words), ...short)
  }
}

customElements.define("site-search", SiteSearch)
