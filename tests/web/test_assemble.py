"""Many modules become one file that runs alone, or the assembler says why not."""

import base64
import hashlib
import json
import re

import pytest

from tailrace.web.assemble import ROOM, AssemblyError, as_json, assembled, bundled


@pytest.fixture
def write(tmp_path):
    def written(**modules):
        for name, text in modules.items():
            path = tmp_path / f"{name.replace('__', '/')}.js"
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return tmp_path / "main.js"

    return written


def test_modules_stand_in_the_order_in_which_they_need_each_other(write):
    entry = write(
        main='import {\n  a,\n  b,\n} from "./b.js";\nexport const c = a + b;\n',
        b='import { a } from "./a.js";\nexport function b() {}\n',
        a="export const a = 1;\n",
    )
    assert bundled(entry) == "const a=1;\nfunction b(){}\nconst c=a+b;\n"


def test_remarks_and_blanks_go_and_texts_stay(write):
    entry = write(
        main="/** @type {string} a remark */\nconst a = `two  // words\n  a ${ 1 + 1 } line`;\n"
        '// a remark\nconst b = "/* none */  ".replace(/ +\\/\\//g, "  ") + +1;\n'
        "/*! a notice */\n"
    )
    assert bundled(entry) == (
        "const a=`two  // words\n  a ${ 1 + 1 } line`;"
        'const b="/* none */  ".replace(/ +\\/\\//g,"  ")+ +1;/*! a notice */\n'
    )


def test_a_foreign_module_is_closed_whatever_it_calls_its_own(write):
    entry = write(
        main='import whole from "./vendor/whole.js";\nimport { x } from "./vendor/two.js";\n'
        "const hidden = whole(x);\n",
        vendor__whole="const hidden = 2;\nexport default function f(x) { return x * hidden; }\n",
        vendor__two="const hidden = 3;\nexport { hidden as x };\n",
    )
    script = bundled(entry)
    assert "const{whole}=(()=>{" in script
    assert "return{x:hidden};" in script
    assert "export" not in script


@pytest.mark.parametrize(
    ("modules", "told"),
    [
        ({"main": 'import { a } from "./b.js";\nconst a = 1;\n', "b": "export const a = 2;\n"},
         "expected names of its own, found a"),
        ({"main": "const { a } = b;\n"}, "taken apart"),
        ({"main": 'import { a as b } from "./b.js";\n', "b": "export const a = 2;\n"}, "as they"),
        ({"main": 'import * as b from "./b.js";\n', "b": ""}, "expected import"),
        ({"main": 'import { a } from "./b.js";\n', "b": 'import { c } from "./main.js";\n'},
         "imports itself"),
        ({"main": 'const a = "</script>";\n'}, "cannot hold"),
        ({"main": "const a = `1 ${b ? ` + 2` : 3}`;\n"}, "would lose its blanks"),
    ],
)  # fmt: skip
def test_what_cannot_be_one_script_is_refused(write, modules, told):
    with pytest.raises(AssemblyError, match=re.escape(told)):
        bundled(write(**modules))


def test_the_policy_names_what_is_run_and_nothing_else(write):
    page = assembled(
        write(main="const a = 1;\n"),
        title="<b>",
        body="<main></main>",
        style="main { color: red }",
        data={"facts": {"name": "</script><b>", "n": 1}},
    )
    script = re.search(r'<script type="module">(.*?)</script>', page, re.S)[1]
    style = re.search(r"<style>(.*?)</style>", page, re.S)[1]
    for kind, text in (("script", script), ("style", style)):
        name = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{name}'" in page
    assert "default-src 'none'" in page
    held = re.search(r'id="facts">(.*?)</script>', page, re.S)[1]
    assert json.loads(held) == {"name": "</script><b>", "n": 1}
    assert "<title>&lt;b&gt;</title>" in page


def test_json_has_no_numbers_that_are_none():
    with pytest.raises(ValueError, match="JSON"):
        as_json(float("nan"))


STORES = r"\b(?:local|session)Storage\b|\bindexedDB\b|\bcookie\b|\bcaches\b|\bwindow\.name\b"


def test_no_page_keeps_anything_but_in_its_address():
    modules = [one for one in ROOM.rglob("*.js") if one.parent.name != "vendor"]
    assert len(modules) > 50
    assert [one.name for one in modules if re.search(STORES, one.read_text("utf-8"))] == []
