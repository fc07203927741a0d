// The answer of <my-room> put on the page: its first lines, the picture, the table, and the reader's own measurement.
import { make, say } from "./elements.mjs"
import { answerOf } from "./room_answer.mjs"
import { showPicture } from "./room_figure.mjs"
import { ownSentence, roomTable } from "./room_table.mjs"
import { listing, unbroken } from "./rounding.mjs"
import { megabits, typedSpeed } from "./typed_values.mjs"

// answer: {room, state, place, group} and, where a place is known, {rows, subject, yours}.
export function showAnswer(element, answer) {
  const part = name => element.querySelector(`[data-${name}]`)
  const { place, state, rows } = answer
  const button = part("meant")
  say(part("asked"), place?.ask ?? place?.refuse ?? (rows ? "" : "Type the level or the loss."))
  button.hidden = place?.meant === undefined
  button.value = place?.meant ?? ""
  const typed = state.speed.trim() ? typedSpeed(state.speed, state.unit) : null
  const other = state.machine === "?"
  const whole = Boolean(rows) && !other
  for (const name of ["picture", "values", "said"]) part(name).hidden = !whole
  part("group").hidden = other
  element.redraw = element.unfold = null
  const own = document.querySelector("[data-own]")
  say(own, typed?.refuse ?? (typed && !typed.said.endsWith(" Mbit/s") ? `${typed.said} is ${megabits(typed.value)} Mbit/s.` : ""))
  part("answer").hidden = !whole && !other
  if (other) part("answer").textContent = `The tests were made with ${machinesOf(element)}. Choose the one with as many antennas as yours: a newer machine may get more, an older one less.`
  if (!whole) return
  const { lead, rest } = answerOf(rows, answer.subject, answer.yours, place, answer.room.gap)
  part("answer").replaceChildren(make("b", {}, lead), unbroken(rest))
  say(part("said"), `${place.said} ${answer.yours || place.window === undefined ? "Each difference is over all losses at which both were tested, as it says, so it is not that of the two values at your place." : ""}`.trim())
  if (typed?.value !== undefined) say(own, `${own.textContent} ${ownSentence(answer.subject, typed.value, answer.yours)}`)
  element.unfold = () => part("values").open && showTable(element, answer, typed?.value)
  element.unfold()
  element.redraw = () => showPicture(element, answer, typed?.value)
  element.redraw()
}

function showTable(element, { rows, subject, yours, place, group }, own) {
  const table = element.querySelector("table")
  say(table.caption.firstElementChild, `Mbit/s ${place.where}, ${group}`)
  table.tHead.rows[0].cells[3].textContent = `Beside ${yours ? "yours" : subject.label}`
  table.tBodies[0].replaceChildren(...roomTable(rows, subject, own, element.dataset.root))
}

function machinesOf(element) {
  const names = [...element.querySelector("[name=machine]").options].filter(option => option.value !== "?").map(option => option.text)
  return listing(names)
}
