"""Fetch the libraries that the bench page holds from the npm registry and wrap each as one module.

    python .ci/vendored.py

Needs npm. Versions are pinned in LIBRARIES; what is written goes to ``sim/tailrace/web/vendor/``: a
module with one name, its style sheet, and LICENSES.txt with name, version, source and licence.
"""

import io
import json
import subprocess
import tarfile
import tempfile
from pathlib import Path

VENDOR = Path(__file__).parents[1] / "sim" / "tailrace" / "web" / "vendor"
LIBRARIES = (
    # package, version, file in it, how it becomes a module, style sheet
    (
        "uplot",
        "1.6.32",
        "dist/uPlot.iife.min.js",
        "{text}\nexport {{ uPlot }};\n",
        "dist/uPlot.min.css",
    ),
    (
        "smol-toml",
        "1.9.1",
        "dist/index.cjs",
        "export const smolToml = (() => {{\nconst exports = {{}};\n"
        "{text}\nreturn exports;\n}})();\n",
        "",
    ),
)


def members(package: str, version: str) -> dict[str, bytes]:
    """Files of a package by their path in it."""
    with tempfile.TemporaryDirectory() as folder:
        packed = subprocess.run(
            ["npm", "pack", "--silent", f"{package}@{version}"],
            cwd=folder,
            check=True,
            capture_output=True,
            text=True,
        )
        content = (Path(folder) / packed.stdout.strip()).read_bytes()
    with tarfile.open(fileobj=io.BytesIO(content)) as archive:
        found = {one.name.removeprefix("package/"): archive.extractfile(one) for one in archive}
        return {name: file.read() for name, file in found.items() if file is not None}


def main() -> None:
    """Write all of them."""
    licences = []
    for package, version, script, wrap, style in LIBRARIES:
        files = members(package, version)
        about = json.loads(files["package.json"])
        licence = about["license"]
        head = f"/* {package} {version}, {licence}; see LICENSES.txt; renew: .ci/vendored.py */\n"
        text = files[script].decode().strip()
        # the map of its sources is not here
        text = "\n".join(line for line in text.splitlines() if "sourceMappingURL" not in line)
        (VENDOR / f"{package}.js").write_text(
            "// @ts-nocheck\n" + head + wrap.format(text=text), encoding="utf-8"
        )
        if style:
            (VENDOR / f"{package}.css").write_text(
                head + files[style].decode().strip() + "\n", encoding="utf-8"
            )
        source = about["repository"]
        source = source["url"] if isinstance(source, dict) else source
        licences.append(
            f"{package} {version} ({licence}), {source}\n\n{files['LICENSE'].decode().strip()}\n"
        )
    (VENDOR / "LICENSES.txt").write_text(f"\n{'-' * 70}\n\n".join(licences), encoding="utf-8")


if __name__ == "__main__":
    main()
