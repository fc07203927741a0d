// A long table is cut (builder/pages/leaves.py): its other rows lie in a script beside the page, and come under the
// first ones when a reader sorts or filters. Rows are made as site_templates/macros/tables.html makes them.
import { make } from "./elements.mjs"
import { loadData } from "./loading.mjs"
import { unbroken } from "./rounding.mjs"

const written = new WeakMap()

// The rows of the table in a box, in the order they were written.
export function rowsAsWritten(box) {
  if (!written.has(box)) written.set(box, [...box.querySelector("tbody").rows])
  return written.get(box)
}

export async function wholeTable(box) {
  const { src, key } = box.dataset
  if (src) {
    const more = await loadData(src, key)
    if (box.dataset.src) join(box, more) // two tools may wait for the same rows
  }
  return rowsAsWritten(box)
}

// The place the address leads to may be a row that lies elsewhere.
export async function showPlace(box) {
  const place = decodeURIComponent(location.hash.slice(1))
  if (!box.dataset.src || !place || place.includes("=") || document.getElementById(place)) return
  await wholeTable(box)
  const row = document.getElementById(place)
  if (!row) return
  for (let fold = row.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true
  location.replace(location.hash) // now that it is there, so that it is also marked as the target
  row.scrollIntoView()
}

function join(box, more) {
  delete box.dataset.src
  const heads = [...box.querySelector("thead tr").cells]
  const folds = box.querySelector("table").classList.contains("folds")
  const rows = more.map(row => rowOf(row, heads, folds))
  written.set(box, [...rowsAsWritten(box), ...rows])
  box.querySelector("tbody").append(...rows)
  box.nextElementSibling.hidden = true // the way to the other rows
}

function rowOf({ facets, id, cells }, heads, folds) {
  const made = cells.map((cell, i) => {
    const element = i ? make("td") : make("th", { scope: "row" })
    const kinds = i ? ["number", "sentence", "decides"].filter(name => heads[i].classList.contains(name)) : []
    if (kinds.length) element.className = kinds.join(" ")
    if (folds) element.setAttribute("role", i ? "cell" : "rowheader")
    if (folds && i) element.dataset.column = heads[i].textContent.trim()
    if (cell.sort !== undefined) element.dataset.sort = cell.sort
    element.append(...partsOf(cell))
    return element
  })
  return make("tr", { ...(folds && { role: "row" }), ...(facets && { "data-facets": facets }), ...(id && { id }) }, ...made)
}

function partsOf({ marks = [], ...cell }) {
  const links = marks.map(mark => make("a", { class: "mark", href: mark.href, title: mark.note }, mark.text))
  return [...saidIn(cell), ...links.flatMap(link => [" ", link])]
}

function saidIn({ text, href, unit, interval, note, missing }) {
  if (!text) return missing ? [make("span", { class: "missing" }, missing)] : []
  const remarks = [["interval", interval], ["note", note]].filter(([, words]) => words)
  return [
    href ? make("a", { href }, text) : unbroken(text),
    unit ? `\u00a0${unit}` : "",
    ...remarks.flatMap(([kind, words]) => [" ", make("span", { class: kind }, words)]),
  ]
}
