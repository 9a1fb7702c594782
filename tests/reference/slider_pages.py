"""Pages with sliders read back by the standard library; where a browser is, if there is one."""

import base64
import json
import shutil
from html.parser import HTMLParser

import numpy as np

HIDDEN = ("script", "style")


class SliderPage(HTMLParser):
    """Elements with their attributes, text by kind of element, and all that is read."""

    def __init__(self, page):
        super().__init__()
        self.elements, self.within, self.open, self.told = [], {}, [], []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.open.append(tag)

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        tag = self.open[-1] if self.open else ""
        self.within.setdefault(tag, []).append(data)
        if tag not in HIDDEN:
            self.told.append(data)

    @property
    def text(self):
        """All that is to be read, without scripts and styles."""
        return " ".join(" ".join(self.told).split())

    @property
    def data(self):
        """The object that the script reads."""
        return json.loads(self.within["script"][0])


def curves(data):
    """Times and heights of every curve of a page, None where there is none."""
    numbers = np.frombuffer(base64.b64decode(data["knots"]), "<u2").reshape(-1, 2)
    found, at = [], 0
    for count, start, step, height, *_ in np.reshape(data["frames"], (-1, 6)):
        mine = numbers[at : at + int(count)]
        at += int(count)
        times = start + step * np.cumsum(mine[:, 0])
        found.append((times, mine[:, 1] / 65535 * height) if count else None)
    assert at == len(numbers)
    return found


def curve_of(data, position, lane=0, own=False):
    """One curve of a page."""
    place = 2 * (position * len(data["solutes"]) + lane) + own
    return curves(data)[place]


def chromium():
    """Where a browser and its driver are: two paths, or None."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    return (browser, driver) if browser and driver else None


def opened(driver, address):
    """A page that has taken up what it brings along."""
    driver.get(address)
    return settled(driver)


def settled(driver):
    """The same, of a page that loads."""
    driver.execute_async_script(
        "const look = () => (document.body.ariaBusy ? setTimeout(look) : arguments[0]()); look();"
    )
    return driver
