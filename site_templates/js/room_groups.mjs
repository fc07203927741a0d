// The rows of the picture under their headings: more than the reader's own, not to be told apart from it, less, not tested.
import { KINDS } from "./room_beside.mjs"
import { decibelRange } from "./rounding.mjs"

export const MOST_DRAWN = 24

// [{title, rows}]; rows as they are drawn: at most MOST_DRAWN, the subject and those nearest to its value among them.
export function roomGroups(rows, subject, yours, place) {
  const tested = rows.filter(row => row.value !== null)
  const worth = row => row.value ?? row.near.value
  const near = [...(tested.length ? [...tested, ...rows.filter(row => row.value === null)] : rows)]
  if (near.length > MOST_DRAWN) near.sort((a, b) => Math.abs(worth(a) - worth(subject)) - Math.abs(worth(b) - worth(subject)))
  const drawn = new Set([subject, ...near].slice(0, MOST_DRAWN + 1))
  const titles = titlesOf(yours ? "yours" : subject.label)
  const kindOf = row => (row.beside.kind === "subject" ? (yours ? "untold" : "more") : row.beside.kind)
  const there = row => drawn.has(row) && (!tested.length || row.value !== null || row === subject)
  const groups = KINDS.map(kind => ({ kind, title: titles[kind], rows: rows.filter(row => there(row) && kindOf(row) === kind) }))
  const alone = groups.find(({ rows: members }) => members.length === 1 && members[0] === subject)
  if (alone) alone.title = yours ? "Yours" : "Gives most"
  const left = rows.filter(row => drawn.has(row) && !there(row))
  const at = `${decibelRange(place.low, place.high)} dB`
  return [...groups, { kind: "untested", title: `Not tested at ${at}`, rows: left }].filter(group => group.rows.length)
}

function titlesOf(name) {
  return {
    more: `More than ${name}`,
    elsewhere: `More than ${name} in one place, less in another`,
    untold: `Cannot be told apart from ${name}`,
    less: `Less than ${name}`,
    open: `No verdict beside ${name}`,
  }
}
