// The reader's choices: what the address keeps of them, and the lists they are made from, which depend on the group.
import { make, optionsOf } from "./elements.mjs"
import { decibelRange, decibels } from "./rounding.mjs"
import { WINDOW_WORDS } from "./room_place.mjs"

const ANOTHER = [["~20", "another one, 20 dBm"], ["~23", "another one, 23 dBm"], ["~30", "another one, 30 dBm"], ["~", "another one, power not known"]]

// What an address says, with what goes without saying; one of before there was "know" says it by what it holds.
export function wholeState(state) {
  const know = state.know ?? (state.level ? "level" : state.loss ? "loss" : "middle")
  return { device: "", level: "", loss: "", client: "other", speed: "", unit: "", machine: "", ...state, know }
}

// What the address keeps: nothing that is not used, and nothing that goes without saying.
export function keptState(state) {
  const { know, speed } = state
  const byLevel = know === "level"
  return {
    ...state, machine: state.machine === "?" ? "?" : "", level: byLevel ? state.level : "", client: byLevel && state.client !== "other" ? state.client : "",
    loss: know === "loss" ? state.loss : "", unit: speed ? state.unit : "",
  }
}

// Fill the lists of the form for a room, and set each field to its state.
export function fillForm(form, state, room) {
  const { machine, group, device, know, client } = form.elements
  machine.value = state.machine === "?" ? "?" : group.selectedOptions[0].dataset.machine
  for (const option of group.options) option.hidden = option.disabled = option.dataset.machine !== group.selectedOptions[0].dataset.machine
  if (form.filledFor !== room) fillLists(device, know, room) // of 400 devices not at every key
  form.filledFor = room
  device.value = state.device
  if (!device.value) device.value = ""
  know.value = state.know
  if (!know.value) know.value = state.know = "loss"
  const readers = room.eirp.filter(([i]) => room.devices[i].id === state.device).map(([, id, name]) => [id, `${name} itself`])
  optionsOf(client, [["other", "another machine"], ...readers], state.client)
  for (const part of form.querySelectorAll("[data-when]")) part.hidden = part.dataset.when !== state.know
  client.closest("p").hidden ||= !readers.length
  for (const name of ["level", "loss", "speed", "unit"]) {
    if (form.elements[name].value !== state[name]) form.elements[name].value = state[name]
  }
}

function fillLists(device, know, room) {
  const names = room.devices.map(({ id, maker, model }) => [id, `${maker} ${model}`]).sort((a, b) => (a[1] < b[1] ? -1 : 1))
  optionsOf(device, [["", "choose yours, if it was tested"], ...names, ...ANOTHER])
  const windows = room.windows.map(([name, low, high]) => make("option", { value: name }, `${WINDOW_WORDS[name]} (${decibelRange(low, high)} dB)`))
  const spots = room.spots.map(([id, between, , loss]) => make("option", { value: id }, `${between} (${decibels(loss)} dB)`))
  const typed = [["level", "as far as the level says"], ["loss", "at a loss that I know, in dB"]].map(([value, text]) => make("option", { value }, text))
  know.replaceChildren(...windows, ...typed, ...(spots.length ? [make("optgroup", { label: "What stands between" }, ...spots)] : []))
}
