"""What is done of a study that is not finished: a folder of blocks, so that it can go on."""

import contextlib
import json
import zipfile
from pathlib import Path

import numpy as np

from tailrace.errors import TailraceError
from tailrace.records.atomic import replacing, write_bytes

MANIFEST = "manifest.json"
LAYOUT = 1
"""Raised by one when blocks of an older version would be misread."""


class KeptBlocks:
    """The folder ``FILE.h5.parts`` beside the file that a study will be.

    Every file in it is complete or not there, whenever the study is stopped.

    Parameters
    ----------
    file : str or Path
        The study's file.
    plan : object
        With ``journeys``, and ``question``: a dict of what must not change while the study waits.
    version : str
        Of tailrace.

    Raises
    ------
    TailraceError
        Where the folder holds blocks of another study, or is not ours.
    OSError
        Where it cannot be made or written.
    """

    def __init__(self, file, plan, version):
        file = Path(file)
        self.folder = file.with_name(f"{file.name}.parts")
        self._count = len(plan.journeys.blocks)
        _begin(self.folder, {"layout": LAYOUT, "version": version, **plan.question}, _ours)

    def read(self, index):
        """Figures of a block, dict of str to array; None where it is not done, or damaged."""
        try:
            # Opened here: of a damaged file, numpy would leave the handle open.
            with (
                self._block(index).open("rb") as stream,
                np.load(stream, allow_pickle=False) as stored,
            ):
                return {name.replace("|", "/"): stored[name] for name in stored.files}
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
            return None

    def write(self, index, figures):
        """Keep the figures of a block."""
        # A slash in a name would be a folder in the archive.
        named = {name.replace("/", "|"): values for name, values in figures.items()}
        with replacing(self._block(index)) as aside, aside.open("wb") as stream:
            np.savez(stream, **named)

    def remove(self):
        """Delete the folder; for when the study's own file is written."""
        _clear(self.folder, _ours)

    def _block(self, index):
        return self.folder / f"block-{index:0{len(str(self._count))}d}.npz"


class KeptBatches:
    """The same for a study whose journeys come in batches, the later ones after the earlier.

    Each batch has a folder of its own in ``FILE.h5.parts``, which also says what was asked.

    Parameters
    ----------
    file : str or Path
        The study's file.
    plan : object
        With ``question``, as of ``KeptBlocks``.
    version : str
        Of tailrace.

    Raises
    ------
    TailraceError, OSError
        As ``KeptBlocks`` does; so does a call.
    """

    def __init__(self, file, plan, version):
        file = Path(file)
        self.folder = file.with_name(f"{file.name}.parts")
        self._version = version
        _begin(self.folder, {"layout": LAYOUT, "version": version, **plan.question}, _of_batches)

    def __call__(self, batch):
        """Blocks of one batch: an object with a safe ``name`` and what ``KeptBlocks`` asks of a
        plan."""
        return KeptBlocks(self.folder / batch.name, batch, self._version)

    def remove(self):
        """Delete the folder; for when the study's own file is written."""
        for one in self.folder.glob("*.parts"):
            _clear(one, _ours)
        _clear(self.folder, _ours)


WHAT = {
    "layout": "the layout of blocks",
    "version": "the version of tailrace",
    "scenario_sha256": "the scenario",
    "axes": "the fields and values",
    "together": "the choice of --together",
    "fingerprint": "the injected signal and the numbers",
}
"""What must not change while a study waits, in words."""


def _ours(path):
    return (
        path.name == MANIFEST
        or (path.name.startswith("block-") and path.suffix == ".npz")
        or (path.name.startswith(".") and path.suffix == ".unfinished")
    )


def _of_batches(path):
    return _ours(path) or path.suffix == ".parts"


def _begin(folder, manifest, ours):
    """Make the folder, or find it with what was begun with the same manifest."""
    folder.mkdir(exist_ok=True)
    if (folder / MANIFEST).exists():
        _compare(folder, manifest)
    elif any(not ours(one) for one in folder.iterdir()):
        raise TailraceError(
            f"{folder}: expected blocks of a study, found other files; rename the folder "
            "or write to another file"
        )
    else:
        write_bytes(folder / MANIFEST, json.dumps(manifest, indent=1).encode())


def _compare(folder, manifest):
    try:
        stored = json.loads((folder / MANIFEST).read_text("utf-8"))
    except ValueError:
        stored = None
    if not isinstance(stored, dict):
        raise TailraceError(
            f"{folder / MANIFEST}: expected what the study was begun with, found a "
            "damaged file; delete the folder to begin anew"
        )
    # As it comes back from the file: a tuple has become a list.
    for key, value in json.loads(json.dumps(manifest)).items():
        if stored.get(key) != value:
            what = WHAT.get(key, f"the choice of {key}")
            raise TailraceError(
                f"{folder}: expected {what} that this study was begun with, found "
                "another; go back to it, name another file, or delete the folder to begin anew"
            )


def _clear(folder, ours):
    """Delete what is ours, and the folder if nothing else is in it.

    The manifest goes last: killed on the way, no block is left that does not say whose it is.
    """
    for one in sorted(folder.iterdir(), key=lambda one: one.name == MANIFEST):
        if ours(one):
            one.unlink(missing_ok=True)
    with contextlib.suppress(OSError):  # someone has put a file of their own there
        folder.rmdir()
