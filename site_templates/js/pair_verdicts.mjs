// What several pairs say together. The verdict of each pair is the build's own (builder/publishing/files/pair_data.py);
// here they are only put side by side, adjusted for how many there are, and looked at for one that leads all others.
import { listing } from "./rounding.mjs"

export const CHANCE = 0.05

// Which comparisons stay separated when all are judged together: the smallest p first, times those left (Holm 1979).
export function holmSeparated(ps) {
  const order = ps.map((p, i) => [p, i]).sort((a, b) => a[0] - b[0] || a[1] - b[1])
  const separated = ps.map(() => false)
  for (const [done, [p, i]] of order.entries()) {
    if ((ps.length - done) * p > CHANCE) break
    separated[i] = true
  }
  return separated
}

// pairs: [{a, b, figure}] with figure null where there is nothing in common. Adds the word for a beside b, and leader.
export function judgedTogether(pairs) {
  const counted = pairs.filter(pair => pair.figure?.p !== undefined)
  const separated = holmSeparated(counted.map(pair => pair.figure.p))
  return pairs.map(pair => {
    const { figure } = pair
    if (!figure) return { ...pair, word: "not tested alike", leader: null }
    if (figure.verdict === "refused") return { ...pair, word: "cannot be compared", leader: null }
    if (figure.verdict === "undecided") return { ...pair, word: "undecided", leader: null }
    if (figure.verdict === "no-verdict") return { ...pair, word: `${whyNoVerdict(figure)}, no verdict`, leader: null }
    if (!figure.leads) return { ...pair, word: "not told apart", leader: null }
    if (!separated[counted.indexOf(pair)]) return { ...pair, word: "not told apart among so many", leader: null }
    return { ...pair, word: "", leader: pair[figure.leads] }
  })
}

// Of a summary without its spread the sentence says so; it is no single run.
function whyNoVerdict({ sentence }) {
  return sentence?.startsWith("No spread") ? "no spread noted" : "single run"
}

export function wordFor(device, other, judged) {
  const pair = judged.find(p => (p.a === device && p.b === other) || (p.a === other && p.b === device))
  if (pair.leader === null) return pair.word
  return pair.leader === device ? "leads" : "is behind"
}

// One sentence on all of them; an overall winner only where one leads each of the others.
export function overall(devices, judged, nameOf) {
  const beats = (a, b) => a !== b && wordFor(a, b, judged) === "leads"
  const winner = devices.find(a => devices.every(b => a === b || beats(a, b)))
  if (winner) return `${nameOf(winner)} leads each of the others, over the range it shares with each.`
  const ring = ringOf(devices, beats)
  if (ring) {
    const steps = ring.map((a, i) => `${nameOf(a)} leads ${nameOf(ring[(i + 1) % ring.length])}`)
    return `There is no overall winner: ${listing(steps)}, each over the range the two share.`
  }
  return "There is no overall winner: none of them leads each of the others."
}

function ringOf(devices, beats) {
  const follow = path => {
    for (const next of devices) {
      if (!beats(path.at(-1), next)) continue
      if (path.includes(next)) return path.slice(path.indexOf(next))
      const found = follow([...path, next])
      if (found) return found
    }
    return null
  }
  for (const first of devices) {
    const found = follow([first])
    if (found) return found
  }
  return null
}

// The group in which most of the pairs have a verdict; of equals the one that stands first.
export function fullestGroup(groups, pairs) {
  const count = group => pairs.filter(pair => pair.figures.some(f => f.group === group && f.verdict !== "refused")).length
  return groups.reduce((best, group) => (count(group) > count(best) ? group : best))
}
