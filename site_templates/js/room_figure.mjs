// The picture of the answer in its box: drawn as wide as the box is, and anew when that changes; its heading and caption.
import { measuredIn } from "./drawing_parts.mjs"
import { say } from "./elements.mjs"
import { roomGroups } from "./room_groups.mjs"
import { roomPicture } from "./room_picture.mjs"
import { roomShapes } from "./room_shapes.mjs"
import { megabits } from "./typed_values.mjs"

// answer: as of room_showing.mjs; own: the reader's measurement or undefined [Mbit/s].
export function showPicture(element, { room, rows, subject, yours, place }, own) {
  const box = element.querySelector("[data-drawn]")
  const width = Math.floor(box.getBoundingClientRect().width)
  if (!width || (box.drawnFor === rows && box.drawnWidth === width && box.drawnOwn === own)) return
  Object.assign(box, { drawnFor: rows, drawnWidth: width, drawnOwn: own })
  const { measure, letters } = measuredIn(box)
  const groups = roomGroups(rows, subject, yours, place)
  const shapes = roomShapes(groups, own, { width, measure, letters, marked: yours })
  const heading = rows.some(row => row.value !== null) ? `What each gives ${place.where}` : "What each gave at the nearest tested place"
  say(element.querySelector("[data-heading]"), heading)
  const spoken = `${heading}. ${element.querySelector("[data-answer]").textContent}`
  const measured = own === undefined ? "" : `you measured ${megabits(own)}`
  box.replaceChildren(roomPicture(shapes, { width, root: element.dataset.root, mark: yours ? markOf(shapes, subject, width, measure) : null, spoken, measured, measure }))
  const drawn = groups.flatMap(group => group.rows).length
  say(element.querySelector("[data-caption]"), [
    `Mbit/s with the 95 % interval${yours ? "; the upright line and its band are yours" : ""}. Blue: the tests can tell it from ${yours ? "yours" : subject.label}, over all losses at which both were tested. Grey: they cannot, or it was not tested there. Square: ${yours ? "yours" : subject.label}.`,
    groups.some(group => group.rows.some(row => row.value === null)) ? "A hollow mark is what it gave at the nearest tested place." : "",
    drawn < rows.length ? `Drawn: ${drawn} of ${rows.length}; the table has all.` : "",
    room.absent ? `Not tested like this: ${room.absent}.` : "",
  ].filter(Boolean).join(" "))
}

// The words on the reader's own line, within the picture.
function markOf(shapes, subject, width, measure) {
  const { at, ends } = shapes.drawn.find(one => one.row === subject)
  const { text, interval, low } = subject.value === null ? subject.near : subject
  const words = `yours, ${text}${low === undefined ? "" : ` (${interval})`}`
  const room = (shapes.wide ? shapes.right : width) - measure(words)
  return { at, ends, text: words, label: Math.max(0, Math.min(at - measure(words) / 2, room)) }
}
