// Answers every question to every room: {rooms, words, parts} on input, a line of words a question on output. What is
// asked is each level from -30 to -95 dBm, from each device and from others, read by each client that is known and by another.
import { readFileSync } from "node:fs"

import { figureIn } from "../../site_templates/js/pair_sentences.mjs"
import { answerOf } from "../../site_templates/js/room_answer.mjs"
import { besideSubject } from "../../site_templates/js/room_beside.mjs"
import { placeOf } from "../../site_templates/js/room_place.mjs"
import { leadingRow, ordered, roomRow } from "../../site_templates/js/room_rows.mjs"

const { rooms, words, parts, asked } = JSON.parse(readFileSync(0, "utf8"))

function answer(group, state) {
  const room = rooms[group]
  const place = placeOf({ know: "level", level: "", loss: "", device: "", client: "other", ...state }, room)
  const { at, gap } = room
  const rows = ordered(room.devices.map(device => roomRow({ ...device, line: { ...device.line, at, gap } }, place)))
  const mine = rows.find(row => row.id === state.device)
  const subject = mine ?? leadingRow(rows)
  const part = new Map(room.devices.map(device => [device.id, device.part]))
  const figures = new Map(rows.filter(row => row !== subject).map(({ id }) => {
    const key = `pairs/${[part.get(id), part.get(subject.id)].sort((a, b) => a - b).join("-")}`
    return [id, figureIn(parts[key], words, ...[id, subject.id].sort(), group)]
  }))
  const beside = besideSubject(rows, subject, figures, Boolean(mine))
  const { lead, rest } = answerOf(beside, beside.find(row => row.id === subject.id), Boolean(mine), place, gap)
  const given = beside.map(row => [row.id, row.text ?? `${row.near.where} ${row.near.text}`, row.interval ?? row.near.interval, row.beside.kind, row.beside.words, row.beside.over ?? ""])
  return { group, state, text: `${lead}|${rest}`, said: place.said, given }
}

const levels = Array.from({ length: 66 }, (_, i) => String(-30 - i))
function* everything() {
  for (const [group, room] of Object.entries(rooms)) {
    for (const device of [...room.devices.map(({ id }) => id), "", "~20"]) {
      const readers = room.eirp.filter(([i]) => room.devices[i].id === device).map(entry => entry[1])
      for (const client of ["other", ...readers.slice(0, 1)]) for (const level of levels) yield [group, { device, client, level }]
    }
  }
}

const questions = asked ?? [...everything()]
process.stdout.write(JSON.stringify(questions.map(([group, state]) => answer(group, state))))
