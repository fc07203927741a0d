// The answer as a table: a row a device, and the reader's own measurement among them.
import { make } from "./elements.mjs"
import { besideWords } from "./room_beside.mjs"
import { megabits } from "./typed_values.mjs"

// rows: beside a subject (room_beside.mjs); own: the reader's measurement or undefined [Mbit/s]; root: of the site.
export function roomTable(rows, subject, own, root) {
  const parts = rows.map(row => ({ at: row.value, element: deviceRow(row, subject, own, root) }))
  if (own !== undefined) parts.push({ at: own, element: ownRow(own) })
  return parts.sort((a, b) => (b.at ?? -1) - (a.at ?? -1)).map(part => part.element)
}

function deviceRow(row, subject, own, root) {
  const head = make("th", { scope: "row" }, make("a", { href: root + row.href }, `${row.maker} ${row.model}`), " ", make("span", { class: "note" }, row.firmware))
  const { kind, likely, sentence } = row.beside
  const beside = kind === "subject" ? ["the one it is about"] : [besideWords(row.beside), likely && `likely ${likely}`]
  const said = [sentence || beside.filter(Boolean).join(", "), row.value !== null && own !== undefined ? besideOwn(row, own) : ""].filter(Boolean).join("; ")
  const about = make("td", { class: "sentence" }, said)
  if (row.value === null) return make("tr", {}, head, make("td", { class: "number" }, row.near.text, " ", make("span", { class: "note" }, row.near.where)), make("td", {}, row.near.interval), about)
  const interval = [row.interval, row.remark].filter(Boolean).join("; ")
  return make("tr", subject.id === row.id ? { class: "own" } : {}, head, make("td", { class: "number" }, row.text), make("td", {}, interval), about)
}

function ownRow(own) {
  return make("tr", { class: "own" }, make("th", { scope: "row" }, "Your measurement"), make("td", { class: "number" }, megabits(own)), make("td"), make("td"))
}

// Where a reader's own speed stands beside a row.
export function besideOwn(row, own) {
  const [low, high] = row.low === undefined ? [row.least, Infinity] : [row.low, row.high]
  if (own < low) return "your measurement is less"
  return own > high ? "your measurement is more" : row.low === undefined ? "" : "your measurement is within it"
}

// The reader's measurement beside the subject's values, in a sentence.
export function ownSentence(row, own, yours) {
  if (!row || row.value === null || row.low === undefined) return ""
  const where = own < row.low ? "below" : own > row.high ? "above" : "within"
  return `Your ${megabits(own)} lies ${where} what ${yours ? "your " : ""}${row.label} gave in the tests (95 %: ${row.interval}).`
}
