// Data lies in scripts that hand over one value under a key (builder/publishing/files/scripts.py): a page opened from disk
// may not fetch a file, but it may run a script beside it.

const asked = new Map()

// Run a script of the site once, whoever asks how often.
export function loadScript(src) {
  const address = String(src)
  if (!asked.has(address)) {
    asked.set(address, new Promise((resolve, reject) => {
      const script = document.createElement("script")
      script.src = address
      script.addEventListener("load", resolve)
      script.addEventListener("error", () => reject(new Error(`${address} could not be read`)))
      document.head.append(script)
    }))
  }
  return asked.get(address)
}

// src: where the script lies; key: what it hands its value over under, which is packed where it is long.
export function loadData(src, key) {
  return loadScript(src).then(() => {
    const data = window.likelossData
    if (typeof data[key] === "string") data[key] = unpacked(data[key]) // once, whoever asks how often
    return data[key]
  })
}

// The value that the build packed (builder/publishing/files/scripts.py, builder/charts/rendering.py: zlib, as base64).
export async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), letter => letter.charCodeAt(0))
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"))).json()
}
