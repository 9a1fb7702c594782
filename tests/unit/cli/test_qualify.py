"""``tailrace qualify``: met as it is; not met where a constant or a file is another."""

import base64
import hashlib
import json
from importlib import metadata
from pathlib import Path

import pytest
from click.testing import CliRunner
from reference.pages import FETCHING, Reader
from reference.tree import ROOT

import tailrace
from tailrace.cli import main
from tailrace.eluent import diffusion, stream
from tailrace.parts.column import packing
from tailrace.report.qualification import trace
from tailrace.scenario import build
from tailrace.scenario.examples import document
from tailrace.studies.qualifying import installed, known, validation


@pytest.fixture(scope="module")
def few():
    """The measured values of one kind, which take the others' place."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(validation, "_bends", tuple)
        yield


def test_every_known_answer_is_met_and_the_page_can_be_signed(tmp_path, few):
    page = tmp_path / "qualification.html"
    arguments = ["qualify", "--out", str(page), "--because", "new <machine>"]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.output
    assert "NOT met" not in done.output
    assert "Qualified: " in done.output
    text = page.read_text("utf-8")
    read = Reader(text)
    assert not FETCHING & {tag for tag, _ in read.elements}
    for phrase in ("Intended use", "u_val", "Known limits", "new &lt;machine&gt;", "Signature"):
        assert phrase in text
    # a place may break behind each stroke of it
    assert "tests/unit/records/test_alterations.py" in text.replace("<wbr>", "")
    assert "First version:" in text


def test_every_requirement_is_held_by_tests_that_are_there():
    rows = trace(document("evidence.md")).rows
    assert len(rows) > 50
    for one in {one.split()[0] for row in rows for one in row[-1].split(", ")}:
        file, _, test = one.partition("::")
        assert f"def {test}" in (ROOT / file).read_text("utf-8"), one


def test_the_object_has_every_value(few):
    done = CliRunner().invoke(main, ["qualify", "--json"])
    found = json.loads(done.output)
    assert found["qualified"] is True
    assert len(found["known"]) > 30
    assert {"model", "measured", "u_num", "u_input", "u_measured"} <= set(found["compared"][0])


@pytest.mark.parametrize(
    ("module", "name", "answers"),
    [
        (stream, "KOZENY_CARMAN", known._pressures),
        (packing, "FILM", known._packing),
        (packing, "PORE_DIFFUSIVITY", known._packing),
        (packing, "STATIONARY_DIFFUSIVITY", known._packing),
        (build, "GAS_CONSTANT", known._retention),
        (diffusion, "DOUBLE_BOND", known._liquids),
    ],
)
def test_a_constant_in_the_code_that_is_another_is_noticed(monkeypatch, module, name, answers):
    assert all(one.satisfied for one in answers())
    monkeypatch.setattr(module, name, 1.01 * getattr(module, name))
    assert not all(one.satisfied for one in answers())


def test_an_altered_file_of_a_wheel_is_noticed(monkeypatch):
    home = Path(tailrace.__file__).parent

    def listed(wrong):
        found = []
        for one in sorted(home.rglob("*.py")):
            content = one.read_bytes() + (b" " if one.name == wrong else b"")
            row = metadata.PackagePath(one.relative_to(home.parent))
            digest = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).decode()
            row.hash = metadata.FileHash(f"sha256={digest.rstrip('=')}")
            found.append(row)
        return found

    for wrong in ("", "theory.py"):
        monkeypatch.setattr(installed.metadata, "files", lambda _, name=wrong: listed(name))
        how, files, altered = installed.altered()
        assert how == "wheel"
        assert files > 300
        assert bool(altered) is bool(wrong)
        assert all(wrong in one for one in altered)
    without = [one for one in listed("") if one.name != "identity.py"]
    monkeypatch.setattr(installed.metadata, "files", lambda _: without)
    assert installed.altered()[2] == ("tailrace/identity.py",)
