// Prints what the chooser makes of every pair it is asked for, from [{ words, parts, asked: [[part, a, b]] }] on input.
import { readFileSync } from "node:fs"

import { pairOf } from "../../site_templates/js/pair_sentences.mjs"

const said = ({ words, parts, asked }) => asked.map(([part, a, b]) => pairOf(parts[part], words, a, b))
process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(said)))
