// <price-answer>: the page's first sentence for the sum that the reader typed into the filter. The build wrote one for every
// sum (builder/registers/affordable.py); here it is only picked.
import { onReturn, readState } from "./address_state.mjs"
import { say } from "./elements.mjs"
import { loadData } from "./loading.mjs"
import { sentenceFor } from "./price_sentences.mjs"
import { unbroken } from "./rounding.mjs"
import { typedSum } from "./typed_values.mjs"

export class PriceAnswer extends HTMLElement {
  connectedCallback() {
    this.verdict = document.querySelector(".verdict")
    this.verdict.setAttribute("aria-live", "polite")
    const field = document.querySelector("table-filter [name=total]")
    field.addEventListener("input", () => this.show(field.value))
    document.querySelector("table-filter button").addEventListener("click", () => this.show(""))
    onReturn(state => this.show(state.total ?? ""))
    if (readState(location.hash).total) this.show(readState(location.hash).total)
  }

  async show(typed) {
    const asked = (this.asked = {})
    const answers = await loadData(this.dataset.src, this.dataset.key)
    const { value } = typed.trim() ? typedSum(typed) : { value: answers.usual }
    if (asked !== this.asked || value === undefined) return // typed on meanwhile, or no sum: the filter says so
    const sentence = sentenceFor(value, answers)
    if (this.verdict.textContent !== unbroken(sentence)) say(this.verdict, sentence)
  }
}
customElements.define("price-answer", PriceAnswer)
