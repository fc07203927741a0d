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

// src: where the script lies; key: what it hands its value over under.
export function loadData(src, key) {
  return loadScript(src).then(() => window.likelossData[key])
}
