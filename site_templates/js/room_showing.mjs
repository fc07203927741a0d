// The answer of <my-room> put on the page: its first lines, the picture, the table, and the reader's own measurement.
import { measuredIn } from "./drawing_parts.mjs"
import { make } from "./elements.mjs"
import { answerOf } from "./room_answer.mjs"
import { roomGroups } from "./room_groups.mjs"
import { roomPicture } from "./room_picture.mjs"
import { roomShapes } from "./room_shapes.mjs"
import { ownSentence, roomTable } from "./room_table.mjs"
import { listing } from "./rounding.mjs"
import { megabits, typedSpeed } from "./typed_values.mjs"

// answer: {room, state, place, group} and, where a place is known, {rows, subject, yours}.
export function showAnswer(element, answer) {
  const part = name => element.querySelector(`[data-${name}]`)
  const { place, state, rows } = answer
  const button = part("meant")
  part("asked").textContent = place?.ask ?? place?.refuse ?? (rows ? "" : "Type the level or the loss.")
  button.hidden = place?.meant === undefined
  button.value = place?.meant ?? ""
  const typed = state.speed.trim() ? typedSpeed(state.speed, state.unit) : null
  const other = state.machine === "?"
  const whole = Boolean(rows) && !other
  for (const name of ["picture", "values", "said", "group"]) part(name).hidden = !whole
  element.redraw = element.unfold = null
  const own = document.querySelector("[data-own]")
  own.textContent = typed?.refuse ?? (typed && !typed.said.endsWith(" Mbit/s") ? `${typed.said} is ${megabits(typed.value)} Mbit/s.` : "")
  part("answer").hidden = !whole && !other
  if (other) part("answer").textContent = `The tests were made with ${machinesOf(element)}. Choose the one with as many antennas as yours: a newer machine may get more, an older one less.`
  if (!whole) return
  const { lead, rest } = answerOf(rows, answer.subject, answer.yours, place, answer.room.gap)
  part("answer").replaceChildren(make("b", {}, lead), rest)
  part("said").textContent = `${place.said} ${answer.yours || place.window === undefined ? "Differences are over the range that both were tested in." : ""}`.trim()
  if (typed?.value !== undefined) own.textContent += ` ${ownSentence(answer.subject, typed.value, answer.yours)}`
  element.unfold = () => part("values").open && showTable(element, answer, typed?.value)
  element.unfold()
  element.redraw = () => showPicture(element, answer, typed?.value)
  element.redraw()
}

function showTable(element, { rows, subject, yours, place, group }, own) {
  const table = element.querySelector("table")
  table.caption.firstElementChild.textContent = `Mbit/s ${place.where}, ${group}`
  table.tHead.rows[0].cells[3].textContent = `Beside ${yours ? "yours" : subject.label}`
  table.tBodies[0].replaceChildren(...roomTable(rows, subject, own, element.dataset.root))
}

function showPicture(element, { room, rows, subject, yours, place }, own) {
  const box = element.querySelector("[data-drawn]")
  const width = Math.floor(box.getBoundingClientRect().width)
  if (!width || (box.drawnFor === rows && box.drawnWidth === width && box.drawnOwn === own)) return
  Object.assign(box, { drawnFor: rows, drawnWidth: width, drawnOwn: own })
  const { measure, letters } = measuredIn(box)
  const groups = roomGroups(rows, subject, yours, place)
  const shapes = roomShapes(groups, own, { width, measure, letters, marked: yours })
  const heading = rows.some(row => row.value !== null) ? `What each gives ${place.where}` : "What each gave at the nearest tested place"
  element.querySelector("[data-heading]").textContent = heading
  const spoken = `${heading}. ${element.querySelector("[data-answer]").textContent}`
  const measured = own === undefined ? "" : `you measured ${megabits(own)}`
  box.replaceChildren(roomPicture(shapes, { width, root: element.dataset.root, mark: yours ? markOf(shapes, subject, width, measure) : null, spoken, measured, measure }))
  const drawn = groups.flatMap(group => group.rows).length
  element.querySelector("[data-caption]").textContent = [
    `Mbit/s with the 95\u00a0% interval${yours ? "; the upright line and its band are yours" : ""}. Blue: the tests can tell it from ${yours ? "yours" : subject.label}. Grey: they cannot, or it was not tested there.`,
    groups.some(group => group.rows.some(row => row.value === null)) ? "A hollow mark is what it gave at the nearest tested place." : "",
    drawn < rows.length ? `Drawn: ${drawn} of ${rows.length}; the table has all.` : "",
    room.absent ? `Not tested like this: ${room.absent}.` : "",
  ].filter(Boolean).join(" ")
}

// The words on the reader's own line, within the picture.
function markOf(shapes, subject, width, measure) {
  const { at, ends } = shapes.drawn.find(one => one.row === subject)
  const { text, interval, low } = subject.value === null ? subject.near : subject
  const words = `yours, ${text}${low === undefined ? "" : ` (${interval})`}`
  const room = (shapes.wide ? shapes.right : width) - measure(words)
  return { at, ends, text: words, label: Math.max(0, Math.min(at - measure(words) / 2, room)) }
}

function machinesOf(element) {
  const names = [...element.querySelector("[name=machine]").options].filter(option => option.value !== "?").map(option => option.text)
  return listing(names)
}
