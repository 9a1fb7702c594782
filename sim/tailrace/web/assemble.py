"""One HTML file from modules, styles and data: it fetches nothing, and its policy forbids it to.

Modules are plain ES modules that node and browsers import as they lie here. In the page they stand
behind one another in one script: ``import`` lines and the word ``export`` are taken out, so that
names at the top level must be unique. What lies in ``vendor/`` is not ours: each of its files is
closed in a function.
"""

import base64
import hashlib
import html
import json
import re
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import rcssmin
import rjsmin

from tailrace.web.rolled import as_text

ROOM = Path(__file__).parent
IMPORT = re.compile(
    r'^import\s+(?:(?P<whole>\w+)|\{(?P<names>[^}]*)\})\s+from\s+"(?P<path>\.[^"]+)";[ ]*\n', re.M
)
EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const|let)\b)", re.M)
NAMED = re.compile(
    r"^(?:export )?(?:async )?(?:function\*?|class|const|let|var)\s+([\w$]+|[{\[])", re.M
)
LISTED = re.compile(r"^export\s*\{([^}]*)\};?[ ]*\n?", re.M)
WHOLE = re.compile(r"^export default (?:(?=(?:function|class)\s+(\w+))|(\w+);?)", re.M)
NESTED = re.compile(r"\$\{[^}`]*`")
UNSAFE = re.compile(r"</script|<!--", re.I)
FRAME = """<!doctype html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{body}
{data}
<script type="module">{script}</script>
</body>
</html>
"""


class AssemblyError(ValueError):
    """Modules that cannot stand in one script; for whoever writes them."""


def assembled(
    entry: Path,
    *,
    title: str,
    body: str,
    style: str = "",
    data: Mapping[str, Any] | None = None,
    packed: Mapping[str, Any] | None = None,
    language: str = "en",
) -> str:
    """The page as one file.

    ``entry``: the module that is run, with all that it imports. ``body``: markup, texts in it
    escaped already. ``data``: by the id of the element whose text is its JSON; ``packed``: the
    same, which ``inflated`` of ``engine/packed.js`` makes JSON again. Raises AssemblyError.
    """
    script, style = bundled(entry), rcssmin.cssmin(style, keep_bang_comments=True)
    hashes = [f"'sha256-{base64.b64encode(_sha256(one)).decode()}'" for one in (script, style)]
    return FRAME.format(
        language=html.escape(language),
        policy=f"default-src 'none'; script-src {hashes[0]}; style-src {hashes[1]}; "
        "base-uri 'none'; form-action 'none'",
        title=html.escape(title),
        style=style,
        body=body,
        data="\n".join(
            [
                f'<script type="application/json" id="{name}">{as_json(content)}</script>'
                for name, content in (data or {}).items()
            ]
            + [_packed(name, content) for name, content in (packed or {}).items()]
        ),
        script=script,
    )


def _packed(name: str, content: Any) -> str:
    deflated = zlib.compress(as_json(content).encode(), 9)
    text = as_text(deflated)
    return f'<script type="text/plain" id="{name}" data-bytes="{len(deflated)}">{text}</script>'


def as_json(content: Any) -> str:
    """JSON that may stand in an element; ``null`` for numbers that are none."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def bundled(entry: Path) -> str:
    """One script from a module and all that it imports, without remarks and needless blanks, which
    are a third of it; those that begin with ``!`` (notices of licences) stay. Raises AssemblyError.
    """
    ordered: dict[Path, str] = {}
    _ordered(entry.resolve(), ordered, ())
    first: dict[str, Path] = {}
    pieces = []
    for path, text in ordered.items():
        foreign = path.parent.name == "vendor"
        script = _closed(path, text) if foreign else EXPORT.sub("", IMPORT.sub("", text))
        if not foreign:
            _unique(path, text, first)
            if re.search(r"^(?:import|export)\b", script, re.M):
                raise AssemblyError(f'{path.name}: expected import {{a}} from "./b.js" and export')
        if UNSAFE.search(script):
            raise AssemblyError(f"{path.name}: a script cannot hold </script or <!--")
        if NESTED.search(script):
            raise AssemblyError(f"{path.name}: a template in a template would lose its blanks")
        pieces.append(str(rjsmin.jsmin(script, keep_bang_comments=True)).strip() + "\n")
    return "".join(pieces)


def _ordered(path: Path, found: dict[Path, str], above: tuple[Path, ...]) -> None:
    if path in above:
        raise AssemblyError(f"{path.name} imports itself through {above[-1].name}")
    if path in found:
        return
    text = path.read_text("utf-8")
    for one in IMPORT.finditer(text):
        _ordered((path.parent / one["path"]).resolve(), found, (*above, path))
        if " as " in (one["names"] or ""):
            raise AssemblyError(f"{path.name}: names are imported as they are called")
    found[path] = text


def _unique(path: Path, text: str, first: dict[str, Path]) -> None:
    for name in NAMED.findall(text):
        if name in first or name in "{[":
            where = first[name].name if name in first else "names that are taken apart"
            raise AssemblyError(f"{path.name}: expected names of its own, found {name} ({where})")
        first[name] = path


def _closed(path: Path, text: str) -> str:
    """A foreign module as one constant for each of its exports."""
    exports: dict[str, str] = {}
    for listed in LISTED.findall(text):
        for one in filter(None, (part.strip() for part in listed.split(","))):
            inner, _, outer = one.partition(" as ")
            exports[(outer or inner).strip()] = inner.strip()
    exports |= {
        name: name for name in re.findall(r"^export (?:function|class|const|let) (\w+)", text, re.M)
    }
    whole = WHOLE.search(text)
    if whole:
        exports["default"] = whole[1] or whole[2]
    inside = EXPORT.sub("", LISTED.sub("", WHOLE.sub("", text)))
    own = re.sub(r"\W", "_", path.stem)
    exports = {own if name == "default" else name: inner for name, inner in exports.items()}
    held = ", ".join(f"{outer}: {inner}" for outer, inner in exports.items())
    return f"const {{ {', '.join(exports)} }} = (() => {{\n{inside}\nreturn {{ {held} }};\n}})();"


def _sha256(text: str) -> bytes:
    return hashlib.sha256(text.encode()).digest()
