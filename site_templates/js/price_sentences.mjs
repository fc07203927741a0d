// Which of the sentences about sums holds for one of them.
import { decimal } from "./rounding.mjs"

// answers: {from, sentences}, each sentence from its sum on, ascending.
export function sentenceFor(sum, { from, sentences }) {
  const place = from.findLastIndex(least => least <= sum)
  return sentences[place].replaceAll("{sum}", () => decimal(sum, 2).replace(/\.00$/, ""))
}
