"""Build hook: the README as an index page can show it, and the addresses of the project.

An index page knows nothing of this folder: pictures and links need whole addresses. They are those
of the repository that the build is made from: of the workflow that builds, or of the clone's
``origin`` on GitHub. Where neither is known, none is made up: pictures become their descriptions,
links to files the names of the files.
"""

import os
import re
import subprocess
from pathlib import Path

from hatchling.metadata.plugin.interface import MetadataHookInterface

ORIGIN = re.compile(r"^(?:https://|git@|ssh://git@)github\.com[:/]([\w.-]+/[\w.-]+?)(?:\.git)?/?$")
PICTURE = re.compile(r"!\[([^\]]*)\]\((?!\w+:)([^)]+)\)")
LINK = re.compile(r"(?<!!)\[([^\]]+)\]\((?!\w+:|#)([^)]+)\)")


def repository(root):
    """Address of the repository, without a slash at its end, and the revision; or None twice."""
    server, name = os.environ.get("GITHUB_SERVER_URL"), os.environ.get("GITHUB_REPOSITORY")
    if server and name:
        return f"{server}/{name}", os.environ.get("GITHUB_SHA", "HEAD")
    if not (Path(root) / ".git").exists():
        return None, None
    git = ["git", "-C", str(root)]
    try:
        origin = subprocess.run(
            [*git, "remote", "get-url", "origin"], capture_output=True, text=True, check=True
        )
        head = subprocess.run(
            [*git, "rev-parse", "HEAD"], capture_output=True, text=True, check=True
        )
    except (OSError, subprocess.CalledProcessError):
        return None, None
    found = ORIGIN.match(origin.stdout.strip())
    return (f"https://github.com/{found[1]}", head.stdout.strip()) if found else (None, None)


def index_page(text, address, revision):
    """The README with whole addresses; where ``address`` is None, with words in their place."""
    if address is None:
        text = PICTURE.sub(r"*Picture (\2): \1*", text)
        return LINK.sub(r"\1 (`\2`)", text)
    text = PICTURE.sub(rf"![\1]({address}/raw/{revision}/\2)", text)
    return LINK.sub(rf"[\1]({address}/blob/{revision}/\2)", text)


class IndexPage(MetadataHookInterface):
    """Fills in ``readme`` and, where they are known, ``urls``."""

    def update(self, metadata):
        """Set both fields of the project's metadata."""
        address, revision = repository(self.root)
        text = (Path(self.root) / "README.md").read_text(encoding="utf-8")
        shown = index_page(text, address, revision)
        metadata["readme"] = {"content-type": "text/markdown", "text": shown}
        metadata["urls"] = {}
        if address:
            metadata["urls"] = {
                "Source": address,
                "Issues": f"{address}/issues",
                "Changelog": f"{address}/blob/HEAD/sim/CHANGELOG.md",
            }
