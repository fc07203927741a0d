// How each device stands beside one of them, by the verdict of their pair over the range both were tested in. That is not the
// reader's place, so every difference says over what it is.
import { sharedRange } from "./line_values.mjs"
import { decimal } from "./rounding.mjs"

// What a row is beside the subject: more, less, untold, elsewhere (more over all, not here), open (no verdict), or subject.
export const KINDS = ["more", "elsewhere", "untold", "less", "open"]

// rows: of room_rows.mjs; subject: the row beside which the others stand; figures: id -> of pair_sentences.mjs (figureIn);
// yours: whether the subject is the reader's own. If it only leads a window, the window's ranking says who may be first, too.
export function besideSubject(rows, subject, figures, yours) {
  return rows.map(row => {
    if (row.id === subject.id) return { ...row, beside: { kind: "subject", words: "", likely: "" } }
    const beside = besideOne(row, subject, figures.get(row.id))
    const kind = yours || !subject.best || !row.best ? beside.kind : row.best === 1 ? "untold" : "less"
    return { ...row, beside: kind === beside.kind ? beside : { kind, words: "", likely: "" } }
  })
}

function besideOne(row, subject, figure) {
  if (!figure || figure.verdict === "refused") return { kind: "open", words: "no comparison", likely: "", sentence: figure?.sentence ?? "" }
  const { verdict, numbers, decimals } = figure
  const said = number => decimal(Math.abs(number), decimals)
  if (verdict === "undecided") return { kind: "open", words: "undecided: one was held back", likely: "" }
  if (verdict === "no-verdict") return { kind: "open", words: "no verdict: too few runs", likely: "" }
  const over = overWords(row, subject)
  if (!figure.leads) return { kind: "untold", words: `${said(numbers[3])} would have shown`, over, likely: "" }
  const ahead = (figure.leads === "a") === (row.id < subject.id)
  const least = verdict === "at-least" ? "at least " : ""
  const kind = here(row, subject, ahead) ? (ahead ? "more" : "less") : "elsewhere"
  return {
    kind, gain: numbers[0], by: `${least}${said(numbers[0])}`, over, words: `${least}${said(numbers[0])} ${ahead ? "more" : "less"}`,
    likely: least ? "" : `${said(numbers[1])}–${said(numbers[2])}`,
  }
}

// The words on a row with what they are about: "84 more over 48–92 dB", "55 would have shown, over 48–92 dB".
export function besideWords({ kind, words, over }, about = over) {
  return over ? `${words}${kind === "untold" ? "," : ""} ${about}` : words
}

// "over 48–92 dB": the whole decibels of the range that the pair is compared over.
function overWords(row, subject) {
  const range = sharedRange(row.stretches, subject.stretches)
  return range ? `over ${range.map(end => decimal(end, 0)).join("–")} dB` : ""
}

// Whether the one that leads over all gives more at the reader's place, too, where both were tested over all of it.
function here(row, subject, ahead) {
  const whole = side => side.value !== null && !side.covered
  return !whole(row) || !whole(subject) || ahead === row.value > subject.value
}
