// The verdicts of one device's pairs in one group, out of the files of pairs (builder/publishing/files/pair_data.py).
import { loadData } from "./loading.mjs"
import { figureIn } from "./pair_sentences.mjs"

// devices: of a room; source: {src, key} of the words of pairs. Gives id of the other -> figure.
export async function pairsOf(devices, id, group, { src, key }) {
  const subject = devices.find(device => device.id === id)
  const others = devices.filter(device => device.id !== id)
  const numbers = [...new Set(others.map(device => device.part))]
  const words = loadData(src, key)
  const files = new Map(await Promise.all(numbers.map(async number => {
    const name = [subject.part, number].sort((x, y) => x - y).join("-")
    return [number, await loadData(src.replace(/words\.js$/, `${name}.js`), key.replace(/words$/, name))]
  })))
  const known = await words
  return new Map(others.map(other => [other.id, figureIn(files.get(other.part), known, ...[id, other.id].sort(), group)]))
}
