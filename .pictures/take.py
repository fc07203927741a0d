"""The two pictures of the README, out of the demo's site: `python .pictures/take.py SITE`, after `likeloss demo`.

Needs Chromium and its driver, as the browser tests do. Few colours keep a picture below 200 kB.
"""

from __future__ import annotations

import base64
import io
import sys
from pathlib import Path

from PIL import Image
from selenium import webdriver

WIDTH, HEIGHT = 1280, 1180
PAGES = {
    "start.png": "index.html",
    "pair.png": "pairs/polmerre-rondel-4--tessarik-cupola/index.html",
}
COLOURS = 64


def main(site: Path) -> None:
    """Write each picture beside this file."""
    options = webdriver.ChromeOptions()
    for argument in ("--headless=new", "--no-sandbox", "--hide-scrollbars"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options=options)
    size = {"width": WIDTH, "height": HEIGHT, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    for name, page in PAGES.items():
        driver.get((site / page).resolve().as_uri())
        shot = driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})["data"]
        picture = Image.open(io.BytesIO(base64.b64decode(shot))).convert("RGB").quantize(COLOURS)
        picture.save(Path(__file__).with_name(name), optimize=True)
    driver.quit()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
