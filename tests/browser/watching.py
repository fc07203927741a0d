"""Opening a page in a real browser, and what the browser has to say of it."""

import json

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.support.ui import WebDriverWait

PATIENCE_S = 60  # no budget: only as long as a busy machine may need before something is taken to be missing

# Data of scripts are unpacked after the page is there. Of each script that was asked for there is a value in the end; one
# that cannot be read is waited for as long as a reader would.
_READ = """
const done = arguments[0]
const until = performance.now() + 5000
const read = async () => {
  const values = Object.values(window.likelossData ?? {})
  await Promise.all(values)
  await new Promise(next => setTimeout(next))
  const asked = document.querySelectorAll('script[src*="scripts/"]').length
  if (values.length === asked || performance.now() > until) done()
  else setTimeout(read, 10)
}
if (window.likelossData) read()
else done()
"""


def patient(driver):
    """Waits for what a page does by itself, also where it is made anew while it is looked at."""
    return WebDriverWait(driver, PATIENCE_S, poll_frequency=0.1, ignored_exceptions=[StaleElementReferenceException])


def opened(driver, path, *, width=360, height=800, scheme="light", fragment=""):
    """Open a file as a reader does from disk, on a screen of that size."""
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    seen_as(driver, scheme=scheme)
    driver.get(path.as_uri() + (f"#{fragment}" if fragment else ""))
    driver.execute_async_script(_READ)
    return driver


def seen_as(driver, *, scheme="light", forced=False):
    """From now on with the reader's scheme of colours; *forced*: with colours of the reader's own."""
    features = {
        "prefers-color-scheme": scheme,
        "prefers-reduced-motion": "reduce",  # a click must not meet a page that still moves
        "forced-colors": "active" if forced else "none",
    }
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": name, "value": v} for name, v in features.items()]}
    )


def complaints(driver):
    """What the console says, since it was asked last."""
    return [entry["message"] for entry in driver.get_log("browser")]


def requests_outside(driver):
    """Addresses asked for outside of the disk, since it was asked last."""
    asked = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    addresses = [m["params"]["request"]["url"] for m in asked if m["method"] == "Network.requestWillBeSent"]
    # The face of figures is data in the style sheet: asked for, and on no network.
    return [a for a in addresses if not a.startswith(("file://", "about:", "data:font/"))]
