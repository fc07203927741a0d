// A chart's specification made ready to be zoomed along its horizontal axis, and words for a mark that is pointed at.
// The specifications (builder/charts) hold the ends of the axis, or name them x_low and x_high, and their data by what it
// is. A chart of several panels has one axis for all.
import { decimal, rateDecimals, trimmed } from "./rounding.mjs"

// An axis of times whose numbers are texts of the picture (builder/charts/waiting_template.py) writes its own when zoomed.
const TIMES = "datum.value < 1000 ? format(datum.value, '~g') + ' ms' : format(datum.value / 1000, '~g') + ' s'"
const NUMBERS = ["starts", "numbers", "ends_of_axis"]
const CLOSEST = 1 / 64 // of the whole axis: below that no two readings lie apart
const MOST_TICKS = 7

export const panelsOf = spec => spec.vconcat ?? [spec]

// A copy of spec whose axis follows x_low and x_high, with nothing drawn beyond it; whole: [low, high] at first.
export function zoomable(spec) {
  const copy = structuredClone(spec)
  const layers = panelsOf(copy).flatMap(panel => panel.layer)
  const axis = layers.map(layer => layer.encoding?.x).find(x => Array.isArray(x?.scale?.domain))
  const valueOf = name => copy.params?.find(param => param.name === name)?.value
  const whole = ["x_low", "x_high"].map((name, end) => valueOf(name) ?? axis.scale.domain[end])
  const others = (copy.params ?? []).filter(param => !["x_low", "x_high"].includes(param.name))
  copy.params = [...others, { name: "x_low", value: whole[0] }, { name: "x_high", value: whole[1] }]
  if (copy.datasets?.numbers) {
    for (const name of NUMBERS) copy.datasets[name] = []
    for (const { encoding } of layers) {
      if (encoding?.x?.axis) Object.assign(encoding.x.axis, { labels: true, values: undefined, labelExpr: TIMES })
    }
  }
  layers.forEach(bounded)
  return { spec: copy, whole, log: axis.scale.type === "log" }
}

// Marks end at the frame. Words, and what stands below it or leads out of it, go as a whole; a bracket is cut.
function bounded(layer) {
  const x = layer.encoding?.x
  if (!x?.field) return
  if (Array.isArray(x.scale?.domain)) x.scale.domain = [{ expr: "x_low" }, { expr: "x_high" }]
  if (x.axis?.values) {
    delete x.axis.values
    x.axis.tickCount = MOST_TICKS
  }
  const data = layer.data?.name ?? ""
  if (data === "windows") {
    layer.transform = [
      { filter: "datum.x2 > x_low && datum.x < x_high" },
      { calculate: "max(datum.x, x_low)", as: "left" },
      { calculate: "min(datum.x2, x_high)", as: "right" },
    ]
    x.field = "left"
    layer.encoding.x2.field = "right"
  } else if (layer.mark.type === "text" || data === "labels" || /^(ruler|window)/.test(data)) {
    const inside = { filter: `datum['${x.field}'] >= x_low && datum['${x.field}'] <= x_high` }
    layer.transform = [...(layer.transform ?? []), inside]
  } else layer.mark.clip = true
}

// The part of the axis after a step: times as wide around its middle or another place, or moved by a share of its width;
// never beyond it.
export function stepped([low, high], { times = 1, move = 0, around }, { whole, log }) {
  const [to, from] = log ? [Math.log, Math.exp] : [x => x, x => x]
  const [least, most] = whole.map(to)
  const width = Math.max(Math.min((to(high) - to(low)) * times, most - least), (most - least) * CLOSEST)
  const middle = (around === undefined ? (to(low) + to(high)) / 2 : to(around)) + move * width
  const start = Math.min(Math.max(middle - width / 2, least), most - width)
  return [from(start), from(start + width)]
}

// The layer that drew a mark, by the name the drawing library gives it.
export function layerOf(spec, markName) {
  const found = /^(?:concat_(\d+)_)?layer_(\d+)_/.exec(markName ?? "")
  return found && panelsOf(spec)[found[1] ?? 0]?.layer[found[2]]
}

// "Ingle: 70 dB, 98.4 Mbit/s" of a mark, or the words it brings along; "" where it holds no reading.
export function wordsOf(spec, layer, datum) {
  const { x, y, x2, y2 } = layer.encoding ?? {}
  const said = (datum.words ? [datum.words] : [axisWords(x, x2, datum), axisWords(y, y2, datum)]).filter(Boolean)
  return said.length ? [nameOf(spec, layer, datum), said.join(", ")].filter(Boolean).join(": ") : ""
}

function axisWords(axis, other, datum) {
  const unit = /\(([^),]+)/.exec(axis?.axis?.title ?? axis?.title ?? "")?.[1]
  const values = [axis?.field, other?.field].filter(Boolean).map(field => datum[field])
  if (!unit || !values.length || !values.every(Number.isFinite)) return ""
  const places = unit.includes("bit/s") ? rateDecimals(...values) : null
  const texts = values.map(value => (places === null ? trimmed(value, 1) : decimal(value, places)))
  return `${texts.join(" to ")} ${unit}`
}

// A line is called what it is labelled with; a difference what its panel's heading says; a row what stands beside it, on
// as many lines as it takes.
function nameOf({ datasets }, layer, datum) {
  if (datum.row !== undefined) return datasets.names.filter(name => name.row === datum.row).map(name => name.text).join(" ")
  if (layer.data?.name.startsWith("difference")) return datasets.headings.map(line => line.text).join(" ").replace(/,[^,]*$/, "")
  const label = datasets.labels?.find(one => one.series === datum.series)
  if (label?.text) return label.text
  const at = label?.at ?? datum.at
  return datasets.names?.find(name => name.at === at)?.text ?? ""
}
