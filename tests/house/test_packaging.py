"""What is packed: every library that is imported is declared; the index page shows what it can."""

import ast
import importlib.util
import re
import sys
import tomllib

import pytest
from reference.tree import ROOT, imports, parsed, python_files

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
DISTRIBUTIONS = {
    "PIL": "pillow",
    "distributed": "dask",
    "pydantic_core": "pydantic-core",
    "skfem": "scikit-fem",
    "pde": "py-pde",
    "importlinter": "import-linter",
    "py_mini_racer": "mini-racer",
    "imageio_ffmpeg": "imageio-ffmpeg",
    "xdist": "pytest-xdist",
}
"""By what is imported, where it is called otherwise."""
ADDRESS = "https://host.test/owner/name"


def declared(*extras):
    """Names of the distributions that are declared, with those of the extras."""
    lines = [*PROJECT["dependencies"], *(line for extra in extras for line in EXTRAS[extra])]
    return {re.match(r"[\w-]+", line)[0].lower() for line in lines}


def loaded(path):
    """Modules that a file imports, those loaded by name included."""
    yield from imports(path)
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith(
            ("import_module", "importorskip")
        ):
            first = node.args[0]
            if isinstance(first, ast.Constant):
                yield first.value


def libraries(folder):
    """Distributions that the files of a folder import."""
    files = python_files(folder)
    own = {path.stem for path in files} | {one.name for one in (ROOT / "tests").iterdir()}
    own |= {"tailrace", ""}
    tops = {name.split(".")[0] for path in files for name in loaded(path)}
    return {DISTRIBUTIONS.get(top, top) for top in tops - own - set(sys.stdlib_module_names)}


@pytest.mark.parametrize(
    ("folder", "extras"),
    [
        ("sim", ("cluster", "film", "sign")),
        ("tests", ("test",)),
        ("benchmarks", ("test", "bench")),
        ("scenarios", ()),
    ],
)
def test_every_library_is_declared(folder, extras):
    assert {name.lower() for name in libraries(folder)} - declared(*extras) == set()


def test_no_library_is_declared_in_vain():
    assert declared() - {name.lower() for name in libraries("sim")} == set()


def test_every_dependency_has_a_lower_bound():
    lines = [*PROJECT["dependencies"], *(line for extra in EXTRAS.values() for line in extra)]
    assert [line for line in lines if not re.search(r">=\d", line)] == []


@pytest.fixture(scope="module")
def hook():
    spec = importlib.util.spec_from_file_location("index_page", ROOT / ".ci" / "index_page.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_pictures_and_links_of_the_index_page_have_whole_addresses(hook):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = hook.index_page(readme, ADDRESS, "abc")
    assert shown.count(f"]({ADDRESS}/raw/abc/scenarios/pictures/") == readme.count("![") == 2
    assert f"]({ADDRESS}/blob/abc/DEVELOPERS.md)" in shown
    assert re.findall(r"\]\((?!https://|#)[^)]*\)", shown) == []


def test_without_a_repository_no_address_is_made_up(hook):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = hook.index_page(readme, None, None)
    assert "![" not in shown
    assert re.findall(r"\]\((?!https://|#)[^)]*\)", shown) == []
    for alt in re.findall(r"!\[([^\]]*)\]", readme):
        assert alt in shown


@pytest.mark.parametrize(
    "origin",
    ["https://github.com/owner/name.git", "git@github.com:owner/name.git"],
)
def test_the_repository_is_that_of_the_clone(hook, origin):
    assert hook.ORIGIN.match(origin)[1] == "owner/name"
    assert not hook.ORIGIN.match("https://elsewhere.test/owner/name.git")
