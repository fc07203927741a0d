// Names for the ends of lines, no wider than there is room: cut at their beginning, since models differ at their end, and
// never two alike. How wide a text is in the reader's own face, the page measures (room_picture.mjs).

// names: texts; room: [px]; measure: text -> its width [px]
export function fittingNames(names, room, measure) {
  const cut = names.map(name => cutName(name, room, measure))
  return cut.map((short, i) => {
    const alike = cut.some((other, k) => k !== i && other === short && names[k] !== names[i])
    return alike ? numbered(short, i + 1, room, measure) : short
  })
}

function cutName(name, room, measure) {
  if (measure(name) <= room) return name
  const ends = Array.from(name, (_, i) => name.slice(i)).slice(1)
  const whole = ends.filter((_, i) => name[i] === " ") // what begins with a word is read more easily
  return [...whole, ...ends].map(end => `… ${end.trim()}`).find(short => measure(short) <= room) ?? "…"
}

function numbered(short, number, room, measure) {
  return `${number}: ${cutName(short, room - measure(`${number}: `), measure)}`
}
