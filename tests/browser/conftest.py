"""A real Chromium, headless. Where there is none the tests are skipped, unless LIKELOSS_BROWSER_REQUIRED=1."""

import os
import shutil

import pytest

REQUIRED = os.environ.get("LIKELOSS_BROWSER_REQUIRED") == "1"
ARGUMENTS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-background-networking")


def _missing(what):
    reason = f"{what} is not installed, so pages cannot be looked at in a browser"
    if REQUIRED:
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def chromium():
    """(browser, driver) as paths."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    if browser is None:
        _missing("chromium")
    if driver is None:
        _missing("chromedriver")
    return browser, driver


def _started(chromium, *, scripts=True):
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = chromium[0]
    for argument in ARGUMENTS:
        options.add_argument(argument)
    if not scripts:
        options.add_experimental_option("prefs", {"profile.managed_default_content_settings.javascript": 2})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(options=options, service=Service(chromium[1]))


@pytest.fixture(scope="session")
def running(chromium):
    driver = _started(chromium)
    yield driver
    driver.quit()


@pytest.fixture(scope="session")
def running_without_scripts(chromium):
    driver = _started(chromium, scripts=False)
    yield driver
    driver.quit()


@pytest.fixture
def browser(running):
    return _forgetful(running)


@pytest.fixture
def browser_without_scripts(running_without_scripts):
    return _forgetful(running_without_scripts)


def _forgetful(driver):
    """The browser that all tests share, without what it has to say of the pages of earlier ones."""
    for log in ("browser", "performance"):
        driver.get_log(log)
    return driver
