// One device's line at any loss, from its knots and the half-widths the build sampled between them
// (builder/windows/line_points.py). No line across a gap, nothing beyond what was tested.

export const SAME_DB = 1e-9

// line: {x, y, bound, port, half, between, at, gap}. x, y, bound, port and half have one entry a knot; between has one a
// piece; port is left out where no value was held back by the device's own port.
export function lineValue(line, x) {
  const knot = line.x.findIndex(k => Math.abs(k - x) <= SAME_DB)
  if (knot >= 0) return { value: line.y[knot], half: line.half[knot], bound: Boolean(line.bound[knot]), port: Boolean(line.port?.[knot]) }
  const right = line.x.findIndex(k => k > x)
  if (right <= 0 || line.x[right] - line.x[right - 1] > line.gap) return null
  const left = right - 1
  const share = (x - line.x[left]) / (line.x[right] - line.x[left])
  const bound = Boolean(line.bound[left] || line.bound[right])
  return {
    value: line.y[left] + share * (line.y[right] - line.y[left]),
    half: bound ? null : between(line.at, line.between[left], share),
    bound,
    port: Boolean(line.port?.[left] || line.port?.[right]),
  }
}

// The squared half-width is a quadratic in the share of the way: three samples give it.
function between(at, halves, share) {
  if (!halves) return null
  let square = 0
  halves.forEach((half, i) => {
    let weight = 1
    at.forEach((place, j) => { if (j !== i) weight *= (share - place) / (at[i] - place) })
    square += weight * half * half
  })
  return Math.sqrt(Math.max(square, 0))
}

// Least and greatest value over a range of losses; null where not all of it was tested.
export function lineSpan(line, low, high) {
  const places = [low, ...line.x.filter(x => x > low && x < high), high]
  const values = places.map(x => lineValue(line, x))
  if (values.includes(null) || crossesGap(line, low, high)) return null
  const least = values.reduce((a, b) => (b.value < a.value ? b : a))
  const most = values.reduce((a, b) => (b.value > a.value ? b : a))
  return { least, most, bound: values.some(v => v.bound), port: values.some(v => v.port) }
}

export function stretches(line) {
  const found = []
  line.x.forEach((x, i) => {
    if (i && x - line.x[i - 1] <= line.gap) found.at(-1)[1] = x
    else found.push([x, x])
  })
  return found
}

// The longest range that two lines cover without a gap, of their stretches; null where they share no place. As in
// builder/bench/joined_line.py.
export function sharedRange(ofOne, ofOther) {
  let best = null
  for (const a of ofOne) for (const b of ofOther) {
    const [low, high] = [Math.max(a[0], b[0]), Math.min(a[1], b[1])]
    if (low <= high && (!best || high - low > best[1] - best[0] + SAME_DB)) best = [low, high]
  }
  return best
}

function crossesGap(line, low, high) {
  return !stretches(line).some(([start, end]) => start <= low + SAME_DB && high <= end + SAME_DB)
}
