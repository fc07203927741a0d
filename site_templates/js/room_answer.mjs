// The first lines of the answer: who gives more than the reader's own device and by how much, who cannot be told apart
// from it; without one, who gives most. All figures are those of the rows and of the pairs.
import { decibelRange, listing } from "./rounding.mjs"

const MOST_LEADS = 3
const MOST_NAMED = 6
const SAME_PLACE_DB = 1

// rows: in order, beside `subject` (room_beside.mjs); yours: whether the subject is the reader's own; gap: how far a line
// may reach [dB]. {lead, rest}: the words that are read first, and those after them.
export function answerOf(rows, subject, yours, place, gap) {
  const tested = rows.filter(row => row.value !== null)
  const counted = tested.length ? tested : rows
  const [lead, by] = yours ? moreThan(counted, `your ${subject.label}`) : givesMost(subject)
  const others = [untoldWords(counted, yours), elsewhereWords(counted, subject)]
  const near = Math.min(...rows.map(row => row.near?.away ?? 0)) <= gap
  const there = [yours && subject.value === null ? nearestWords(subject, tested.length ? [] : rows, near, place) : "", testedPart(tested, place)]
  if (near) return { lead, rest: inSentences(by, ...others, ...there) }
  const whole = yours ? `Over all that was tested, ${lead[0].toLowerCase()}${lead.slice(1)}${by}` : `${lead}${by}`
  return { lead: `Nothing was tested within ${gap} dB of there.`, rest: ` ${inSentences(...there, whole, ...others)}` }
}

function moreThan(rows, own) {
  const more = rows.filter(({ beside }) => beside.kind === "more").sort((a, b) => b.beside.gain - a.beside.gain)
  if (!more.length) return [`Nothing tested here gives more than ${own}`, rows.some(({ beside }) => beside.kind === "untold") ? ", as far as these tests can tell." : "."]
  const gains = more.slice(0, MOST_LEADS).map(({ label, beside: { by, likely, over } }, i) => `${i ? label : ""}, by ${by} Mbit/s ${over}${likely && `, likely ${likely}`}`)
  const left = more.length - gains.length
  return [`More than ${own}: ${more[0].label}`, `${[...gains, ...(left ? [`and ${left} more`] : [])].join("; ")}.`]
}

function givesMost({ label, value, near, ...row }) {
  if (value !== null) return [`${label} gives most`, `: ${valueWords({ ...row, value })}.`]
  return [`${label} gave most at the nearest tested place`, `, ${near.where}: ${valueWords(near)}.`]
}

function valueWords({ text, low, high, least, most, interval }) {
  if (text.startsWith("≥")) return `at least ${text.slice(1).trim()} Mbit/s`
  if (least !== undefined && least !== most) return `between ${text.replace("–", " and ")} Mbit/s`
  return `${text} Mbit/s${low === undefined || high === undefined ? "" : `, likely ${interval}`}`
}

function untoldWords(rows, yours) {
  const names = rows.filter(({ beside }) => beside.kind === "untold").map(row => row.label)
  return names.length ? `${listingShort(names)} cannot be told apart from ${yours ? "yours" : "it"}.` : ""
}

function elsewhereWords(rows, subject) {
  const names = rows.filter(({ beside }) => beside.kind === "elsewhere").map(row => row.label)
  return names.length ? `${listingShort(names)} ${names.length === 1 ? "gives" : "give"} more than ${subject.label} in one place and less in another.` : ""
}

// Where the subject was not tested at the place: what it gave nearest to it, and the best of the other rows there.
function nearestWords(subject, rows, near, { low, high }) {
  const beside = rows.filter(({ id, near }) => id !== subject.id && Math.abs(near.db - subject.near.db) <= SAME_PLACE_DB)
  const best = beside.reduce((a, b) => (a && a.near.value >= b.near.value ? a : b), undefined)
  const who = rows.length ? "Nothing was tested" : `Your ${subject.label} was not tested`
  const begin = near ? `${who} at ${decibelRange(low, high)} dB: ` : "The nearest place is "
  const end = `${rows.length ? `your ${subject.label}` : "it"} gave ${subject.near.text} Mbit/s${best ? ` and ${best.label} ${best.near.text}` : ""}.`
  return `${begin}${subject.near.where}${near ? ", " : "; there "}${end}`
}

function testedPart(tested, { low, high }) {
  if (!tested.length || tested.some(row => !row.covered)) return ""
  const ends = tested.flatMap(row => row.covered.flat())
  return `Of ${decibelRange(low, high)} dB only ${decibelRange(Math.min(...ends), Math.max(...ends))} dB were tested, and the answer is for that part.`
}

function listingShort(names) {
  return listing(names.length > MOST_NAMED ? [...names.slice(0, MOST_NAMED - 1), `${names.length - MOST_NAMED + 1} more`] : names)
}

function inSentences(...texts) {
  return texts.filter(Boolean).join(" ")
}
