"""axe-core from the npm registry, run on what a browser shows."""

import shutil
import subprocess
import tarfile
import tempfile
from functools import cache
from pathlib import Path


@cache
def script():
    """The script; empty where the registry cannot be asked."""
    with tempfile.TemporaryDirectory() as folder:
        asked = ["npm", "pack", "--silent", "axe-core@4.14.1"]
        if shutil.which("npm") is None:
            return ""
        done = subprocess.run(asked, cwd=folder, check=False, capture_output=True)
        if done.returncode:
            return ""
        with tarfile.open(next(Path(folder).glob("*.tgz"))) as archive:
            return archive.extractfile("package/axe.min.js").read().decode()


def serious(driver, address, width=1440, scheme="light", before=""):
    """What is serious or critical of a page, and whether it is wider than the window."""
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500}
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    try:
        driver.get("about:blank")
        driver.get(address)
        driver.execute_script(before)
        driver.execute_script(
            "for (const one of document.querySelectorAll('details')) one.open = true"
        )
        wide = driver.execute_script("return document.documentElement.scrollWidth")
        driver.execute_script(script())
        found = driver.execute_async_script(
            "const done = arguments[0]; axe.run().then((found) => done(found.violations));"
        )
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    told = [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found]
    told = [one for one in told if one[1] in ("serious", "critical")]
    return told + ([("wider than the window", wide, width)] if wide > width else [])
