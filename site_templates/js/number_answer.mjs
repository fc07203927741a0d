// What the tests say of a number that a reader heard elsewhere, out of the sentences and rows that the build wrote
// (builder/publishing/files/number_claims.py).
import { nearTo } from "./found_things.mjs"
import { trimmed } from "./rounding.mjs"

// asked: of numberAsked; near: every figure near it, the nearest first (figuresNear); fitting: those with the query's other
// words, too; claims: {sentences, gone}. Sentences, the one that answers first.
export function numberAnswer({ value, others }, near, fitting, { sentences, gone }) {
  const [low, high] = nearTo(value).map(end => trimmed(end, 2))
  const say = (name, slots) => sentences[name].replace(/\{(\w+)\}/g, (_, slot) => slots[slot])
  const asked = { asked: trimmed(value, 2), low, high, others: others.join(" ") }
  const corrected = gone.filter(([number]) => Number(number) === value).map(([, sentence]) => sentence)
  const unfit = near.length && !fitting.length ? [say("unfit", asked)] : []
  const figures = fitting.length ? fitting : near
  if (!figures.length) return [...corrected, say("none", asked)].join(" ")
  const exact = figures.filter(({ distance }) => distance === 0)
  const { row } = figures[0]
  const slots = { ...asked, ...row, beside: row.beside && ` (${row.beside})`, count: exact.length }
  const name = exact.length > 1 ? "several" : exact.length ? "one" : "near"
  return [...corrected, ...unfit, say(name, slots), row.elsewhere].filter(Boolean).join(" ")
}
