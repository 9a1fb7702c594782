"""The bench page in a browser, driven as a person does."""

import json
from contextlib import contextmanager
from pathlib import Path

from reference.slider_pages import chromium
from tailrace.journey.product import multiply
from tailrace.scenario.scenario import Scenario

SWITCHES = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1440,1000",
)
START = Path(__file__).parents[2] / "scenarios" / "inherited-core-shell.toml"
FOUND = chromium()
DROPS = """const files = new DataTransfer();
files.items.add(new File([Uint8Array.from(arguments[1])], arguments[0]));
for (const kind of ["dragenter", "dragover", "drop"])
  document.body.dispatchEvent(
    new DragEvent(kind, { dataTransfer: files, bubbles: true, cancelable: true }));"""
"""As a browser tells it when a file comes from the desk."""


@contextmanager
def browser(folder):
    """A browser of its own, with its files in a folder."""
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = FOUND[0]
    for switch in (*SWITCHES, f"--user-data-dir={folder}"):
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options, webdriver.ChromeService(FOUND[1]))
    try:
        driver.set_script_timeout(60)
        yield driver
    finally:
        driver.quit()


def plates(text):
    """By the program, of the first solute."""
    result = multiply(Scenario.from_text(text).itinerary())
    return float(result.recorded["plates_own_retention"][0])


class Bench:
    """What a person sees and does; ``page``: path of the file, ``folder``: for files to open."""

    def __init__(self, driver, page, folder):
        self.driver, self.page, self.folder = driver, page, folder
        self.opened = 0

    def visit(self, fragment=""):
        self.driver.get_log("browser")  # what was done before is no longer told
        self.driver.get("about:blank")
        self.driver.get(self.page.as_uri() + fragment)
        while self.run("return document.body.ariaBusy"):
            self.settled()
        self.settled()
        return self

    def settled(self):
        """Once what was done is drawn."""
        self.driver.execute_async_script(
            "const done = arguments[0];"
            "requestAnimationFrame(() => requestAnimationFrame(() => done()));"
        )

    def run(self, script, *values):
        return self.driver.execute_script(script, *values)

    def find(self, name):
        return self.driver.find_element("id", name)

    def text(self, name):
        return self.find(name).text

    def click(self, name):
        self.run("document.getElementById(arguments[0]).click()", name)
        self.settled()

    def open(self, content, name="scenario.toml", dropped=False):
        """A file chosen by hand, or dropped on the page; returns what is said then."""
        content = content if isinstance(content, bytes) else content.encode()
        self.run("document.getElementById('said').textContent = ''")
        if dropped:
            self.run(DROPS, name, list(content))
        else:
            self.opened += 1
            path = self.folder / str(self.opened) / name
            path.parent.mkdir()
            path.write_bytes(content)
            self.find("file").send_keys(str(path))
        # at once: it is shown for some seconds only
        told = self.driver.execute_async_script(
            """const done = arguments[0], said = document.getElementById("said");
            const look = () => {
              const told = said.textContent;
              told ? requestAnimationFrame(() => done(told)) : setTimeout(look, 5);
            };
            look();"""
        )
        self.settled()
        return told

    @property
    def scenario(self):
        """The text of the scenario, out of the command that is offered to copy."""
        self.click("command")
        text = self.run("return document.getElementById('offer-text').value")
        self.click("offer-close")
        first, _, rest = text.partition("\n")
        return rest[: rest.rindex(first.rsplit("'", 2)[1])]

    def write(self, name, text):
        """Type into a field in place of what it holds."""
        self.run(
            """const field = document.getElementById(arguments[0]);
            field.focus();
            field.value = arguments[1];
            field.dispatchEvent(new Event("input", {bubbles: true}));""",
            name,
            text,
        )
        self.settled()

    def reshaped(self, shape):
        """The sample injected in another shape; its row is open then."""
        if self.find("row-injection-0").get_attribute("aria-expanded") != "true":
            self.click("row-injection-0")
        self.choose("shape", shape)

    def choose(self, name, value):
        """One of a list."""
        self.run(
            """const list = document.getElementById(arguments[0]);
            list.value = arguments[1];
            list.dispatchEvent(new Event("change"));""",
            name,
            value,
        )
        self.settled()

    @property
    def names(self):
        """Of the parts, as they are listed."""
        return [one.text for one in self.driver.find_elements("css selector", "#path .name")]

    def cells(self, place):
        """Rows of a table, by their first cell."""
        rows = self.driver.find_elements("css selector", f"#{place} tbody tr")
        return {
            row.find_element("tag name", "th").text.partition("\n")[0]: [
                cell.text for cell in row.find_elements("tag name", "td")
            ]
            for row in rows
        }

    def ordered(self):
        """Once the best order of changes is drawn."""
        self.driver.execute_async_script(
            """const done = arguments[0];
            const there = () => document.querySelector("#staircase:not(.old) rect");
            const look = () => there() ? done() : setTimeout(look, 9);
            look();"""
        )

    @property
    def plates(self):
        """Of the solute that is looked at, as shown."""
        return float(self.cells("peak")["Plates at own retention"][-1])

    @property
    def complaints(self):
        """What the browser has logged since it was last asked."""
        return [one["message"] for one in self.driver.get_log("browser")]

    @property
    def requests(self):
        """Addresses that were asked for since it was last asked."""
        messages = (
            json.loads(one["message"])["message"] for one in self.driver.get_log("performance")
        )
        return [
            one["params"]["request"]["url"]
            for one in messages
            if one["method"] == "Network.requestWillBeSent"
        ]
