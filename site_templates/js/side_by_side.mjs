// What is known of several devices, fact by fact (builder/pages/device_card.py): a row for each term that any of them has.
import { loadData } from "./loading.mjs"

// cards: one list of [term, text, href] for each device. [{term, cells: [{text, href}, …]}], in the order of the first.
export function factRows(cards) {
  const terms = [...new Set(cards.flatMap(card => card.map(([term]) => term)))]
  return terms.map(term => ({
    term,
    cells: cards.map(card => {
      const [, text, href] = card.find(fact => fact[0] === term) ?? []
      return { text: text ?? "not stated", href: href?.startsWith("#") ? "" : href ?? "" }
    }),
  }))
}

// The card of a device, out of the file of its part; root: the way from the page to the site's own folder.
export async function cardOf(id, part, root) {
  const key = `cards/${part}`
  return (await loadData(`${root}scripts/${key}.js`, key))[id]
}
