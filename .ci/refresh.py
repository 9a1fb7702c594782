"""Make anew, from the program as it is, what the project shows of it.

    python .ci/refresh.py                  # an environment with pip install -e ".[test]"
    python .ci/refresh.py tables pictures  # some of it: tables, pictures, page, lessons

Pictures in ``scenarios/pictures``, the pages with sliders and with the lessons in
``scenarios/pages``, and the tables in README and guide (fences that name their command). Takes a
few minutes.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from html import unescape
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))
PICTURES = {
    "run scenarios/inherited-core-shell.toml": {
        "peaks": "inherited-core-shell-peaks",
        "chromatogram": "inherited-core-shell-chromatogram",
    },
    "improve scenarios/decide/brewery-core-shell.toml": {"steps": "brewery-core-shell-steps"},
    "improve scenarios/decide/four-columns.toml": {"columns": "four-columns"},
    "figures outlet-signals": {"outlet-signals": "outlet-signals"},
}
PAGE = ROOT / "scenarios" / "pages" / "inherited-core-shell.html"
LESSON_OF = {"two-tails": "two-tails-a"}
LESSONS = ROOT / "scenarios" / "lessons"


def tailrace(*arguments):
    """Run a command in the project's folder."""
    subprocess.run([sys.executable, "-m", "tailrace", *arguments], cwd=ROOT, check=True)


def pictures():
    """Copy the pictures of some commands."""
    for command, copies in PICTURES.items():
        with tempfile.TemporaryDirectory() as folder:
            tailrace(*command.split(), "--out", folder)
            for name, copy in copies.items():
                shutil.copy(
                    Path(folder) / f"{name}.svg", ROOT / "scenarios" / "pictures" / f"{copy}.svg"
                )


def page():
    """Write the page with sliders, with the sliders that it says it has."""
    text = unescape(PAGE.read_text(encoding="utf-8"))
    slides = dict.fromkeys(re.findall(r"--slide '([^']*)'", text))
    asked = [word for slide in slides for word in ("--slide", slide)]
    tailrace("page", "scenarios/inherited-core-shell.toml", *asked, "--out", str(PAGE))


def lessons():
    """Write all lessons as one page, in the order of their index."""
    rows = re.findall(r"^\| \d+ \| \[([\w-]+)\]", (LESSONS / "README.md").read_text("utf-8"), re.M)
    files = [f"scenarios/lessons/{LESSON_OF.get(name, name)}.toml" for name in rows]
    tailrace("page", *files, "--out", str(PAGE.with_name("lessons.html")))


def tables():
    """Set today's tables into the fences that name their command."""
    from reference.printed import FENCE, pages, printed, title

    answers = {}
    for file in pages():
        text = file.read_text(encoding="utf-8")
        for arguments, body in FENCE.findall(text):
            if arguments not in answers:
                answers[arguments] = printed(arguments)
            today = [answers[arguments][title(table)] for table in body.strip().split("\n\n")]
            new = "\n\n".join("\n".join(map(str.rstrip, one.splitlines())) for one in today)
            text = text.replace(f"{arguments}\n{body}```", f"{arguments}\n{new}\n```")
        file.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    steps = {"tables": tables, "pictures": pictures, "page": page, "lessons": lessons}
    for name in sys.argv[1:] or steps:
        steps[name]()
