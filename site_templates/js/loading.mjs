// Data lies in scripts that hand over one value under a key (builder/publishing/scripts.py): a page opened from disk
// may not fetch a file, but it may run a script beside it.

const asked = new Map()

// src: where the script lies; key: what it hands its value over under.
export function loadData(src, key) {
  if (!asked.has(key)) {
    asked.set(key, new Promise((resolve, reject) => {
      const script = document.createElement("script")
      script.src = src
      script.addEventListener("load", () => resolve(window.likelossData[key]))
      script.addEventListener("error", () => reject(new Error(`${src} could not be read`)))
      document.head.append(script)
    }))
  }
  return asked.get(key)
}
