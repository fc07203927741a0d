// Reads {rooms, asked} from standard input and answers what the page's own code says: one list a room, a value a line.
import { readFileSync } from "node:fs"

import { lineValue } from "../../site_templates/js/line_values.mjs"

const { rooms, asked } = JSON.parse(readFileSync(0, "utf8"))
const answers = asked.map(([room, device, x]) => {
  const { gap, at, devices } = rooms[room]
  return lineValue({ ...devices.find(d => d.id === device).line, gap, at }, x)
})
process.stdout.write(JSON.stringify(answers))
