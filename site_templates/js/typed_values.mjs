// What a reader types: numbers with a point or a comma, levels and losses with the mistakes people really make,
// speeds whose unit is asked for, never guessed. Each reading is {value} or {ask, meant} or {refuse}.
import { MINUS, decimal, trimmed } from "./rounding.mjs"

const LOWEST_LEVEL_DBM = -110
const HIGHEST_LEVEL_DBM = -10
const HIGHEST_LOSS_DB = 130

// Mbit/s in one of each.
export const SPEED_UNITS = { "Mbit/s": 1, "Gbit/s": 1000, "kbit/s": 0.001, "MB/s": 8, "MiB/s": 8.388608 }

export function typedNumber(text) {
  const plain = text.trim().replace(/[\u2212\u2013]/g, "-").replace(/[\s\u00a0\u202f]/g, "")
  if (!/^[+-]?(\d+([.,]\d+)?|[.,]\d+)$/.test(plain)) return null
  return Number(plain.replace(",", "."))
}

function bare(text, unit) {
  return text.trim().replace(new RegExp(`\\s*${unit}$`, "i"), "")
}

export function typedLevel(text) {
  if (text.trim().endsWith("%")) {
    return { refuse: "A percentage is no level. Look for a value in dBm." }
  }
  const value = typedNumber(bare(text, "dBm"))
  if (value === null) return { refuse: `“${text.trim()}” is not a number.` }
  if (value === 0) return { refuse: "0 dBm is no received level; many programs show 0 for none." }
  if (value > 0) {
    return { ask: `Did you mean ${MINUS}${trimmed(value, 1)} dBm? A received level is below 0 dBm.`, meant: -value }
  }
  if (value > HIGHEST_LEVEL_DBM) return { refuse: `No client reads ${trimmed(value, 1)} dBm in a room.` }
  if (value < LOWEST_LEVEL_DBM) return { refuse: `${trimmed(value, 1)} dBm is below the noise of any channel.` }
  return { value }
}

export function typedLoss(text) {
  const value = typedNumber(bare(text, "dB"))
  if (value === null) return { refuse: `“${text.trim()}” is not a number.` }
  if (value < 0) {
    return {
      ask: `Did you mean ${trimmed(-value, 1)} dB? Attenuation is positive: how much is lost. A level goes below.`,
      meant: -value,
    }
  }
  if (value > HIGHEST_LOSS_DB) return { refuse: `An attenuation lies between 0 and ${HIGHEST_LOSS_DB} dB.` }
  return { value }
}

// A sum of money, with or without its currency. Money has no thousandths: three digits at the end are thousands.
export function typedSum(text) {
  const plain = text.trim().replace(/^[^\d,.+-]+|[^\d,.]+$/g, "")
  const value = typedNumber(/[.,]\d{3}$/.test(plain) ? plain.replace(/[.,]/g, "") : plain)
  if (value === null || value < 0) return { refuse: `“${text.trim()}” is not a sum.` }
  return { value }
}

export function typedSpeed(text, unit) {
  const match = /^(.*?\d)\s*([a-z/]+)?$/i.exec(text.trim())
  const value = match && typedNumber(match[1])
  if (match === null || value === null) return { refuse: `“${text.trim()}” is not a number.` }
  const named = match[2] && Object.keys(SPEED_UNITS).find(known => known === match[2])
  if (match[2] && !named) return { refuse: `Choose the unit: “${match[2]}” can be read in more than one way.` }
  if (value < 0) return { refuse: "A speed is not below zero." }
  const chosen = unit || named
  if (!chosen) return { refuse: "Which unit? The same digits in MB/s are eight times those in Mbit/s." }
  if (named && unit && named !== unit) return { refuse: `You typed ${named} and chose ${unit}. Which is it?` }
  return { value: value * SPEED_UNITS[chosen], said: `${trimmed(value, 4)} ${chosen}` }
}

export function megabits(value) {
  return decimal(value, Number.isInteger(value) ? 0 : 1)
}
