// Where the reader sits, as a range of losses [dB]: from a window, a spot, a loss, or a level and who sends it.
import { listing, decibelRange, decibels } from "./rounding.mjs"
import { typedLevel, typedLoss } from "./typed_values.mjs"

export const WINDOW_WORDS = { near: "Near", middle: "A wall or two", far: "Far" }
const WHERE = { near: "near", middle: "behind a wall or two", far: "far off" }
const ANOTHER_DBM = { "~20": [20, 20], "~23": [23, 23], "~30": [30, 30] } // what access points are allowed to send
const NOT_KNOWN_DBM = [20, 30]
const LIKE_A_SPOT_DB = 3

// {low, high, where, said, window} or, of what was typed, {ask, meant} or {refuse}; null where nothing was.
export function placeOf(state, room) {
  const window = room.windows.find(([name]) => name === state.know)
  if (window) {
    const [name, low, high] = window
    return { low, high, window: name, where: `${WHERE[name]}, at ${decibelRange(low, high)} dB`, said: "" }
  }
  const spot = room.spots.find(([id]) => id === state.know)
  if (spot) return { low: spot[3], high: spot[3], where: `at ${decibels(spot[3])} dB`, said: `${decibels(spot[3])} dB was measured at ${spot[2]} of these tests: ${spot[1]}.` }
  const byLevel = state.know === "level"
  const text = (byLevel ? state.level : state.loss) ?? ""
  if (!text.trim()) return null
  const read = byLevel ? typedLevel(text) : typedLoss(text)
  if (read.value === undefined) return read
  return byLevel ? placeOfLevel(text.trim(), read.value, state, room) : placed(read.value, read.value, likeSpot(read.value, room))
}

function placeOfLevel(text, level, state, room) {
  const [least, most, sender, exact] = senderOf(state, room)
  const apart = exact ? 0 : room.otherAdapterDb
  const [low, high] = [least - level - apart, most - level + apart]
  const loss = low === high ? `about ${decibels(low)}` : decibelRange(low, high)
  const why = apart ? `, since two adapters may read ${decibels(apart)} dB apart` : ""
  return placed(low, high, `${text.replace(/\s*dBm$/i, "").replace("-", "\u2212")} dBm from ${sender} means a loss of ${loss} dB${why}.${low === high ? ` ${likeSpot(low, room)}` : ""}`)
}

// What the reader's access point sends, as the client hears it: [least, most [dBm], in words, whether by that very client].
function senderOf({ device, client }, room) {
  const sides = room.eirp.filter(([i]) => room.devices[i].id === device)
  const same = sides.find(([, id]) => id === client)
  const side = same ?? sides[0]
  if (side) return [side[3], side[3], `your ${room.devices[side[0]].label}`, Boolean(same)]
  const [least, most] = ANOTHER_DBM[device] ?? NOT_KNOWN_DBM
  const known = room.devices.find(({ id }) => id === device)
  const sends = least === most ? `${least} dBm` : `${least} to ${most} dBm`
  return [least, most, known ? `your ${known.label}, which may send ${sends},` : `an access point that sends ${sends}`]
}

function placed(low, high, said) {
  return { low, high, where: `at ${decibelRange(low, high)} dB`, said: said.trim() }
}

// The spots with about as much loss, in words.
function likeSpot(loss, room) {
  const near = room.spots.filter(spot => Math.abs(spot[3] - loss) <= LIKE_A_SPOT_DB)
  near.sort((a, b) => Math.abs(a[3] - loss) - Math.abs(b[3] - loss))
  const named = near.slice(0, 2).map(([, between, spot, db]) => `${spot} (${between}, ${decibels(db)} dB)`)
  return named.length ? `About as much was lost at ${listing(named)}.` : ""
}
