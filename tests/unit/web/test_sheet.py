"""Sheets of a lesson: what a section is, is seen from what it holds; a page made of one's own."""

import pytest
from click.testing import CliRunner
from reference.slider_pages import SliderPage

from tailrace.cli import main
from tailrace.web.sheet import SheetError, inline, lesson, marked

STUDENT = """# Wie lang?

Ein Rohr.

## Vorhersage

Erst denken.

1. Doppelt so lang:
   - a) mehr
   - b) weniger

## Versuch

```sh
tailrace run tube.toml
```

Nur hier.

## Tabelle

| Länge | Tailing |
| --- | --- |
| 0.2 m |  |

## Schluss

- Warum?
"""
TEACHER = """# Lehrer

## Antworten

1. **b** Mehr Zeit.

## Zahlen

| Länge | Tailing |
| --- | --- |
| 0.2 m | 3.1 |

- Darum.

## Fehler

- Keine.
"""
SCENARIO = """
[method]
flow = "1 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "tracer"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "1 m"
[[changes]]
name = "short"
set = { tube = { length = "0.5 m" } }
[page]
language = "de"
sheet = "student.md"
answers = "teacher.md"
introduction = "Ein <Rohr>."
headings = { trust = "Wie weit?", lock = "Fest" }
slide = ["tube.length = 0.5, 1 m"]
steps = ["Schieben."]
[[page.versions]]
name = "lang"
[[page.versions]]
name = "kurz"
changes = ["short"]
"""


def test_sections_are_known_by_what_they_hold_in_any_language():
    made = lesson(STUDENT, TEACHER)
    assert made.title == "Wie lang?"
    assert [part.kind for part in made.parts] == ["predict", "do", "fill", "text", "aside"]
    (question,) = made.parts[0].questions
    assert (question.text, question.answer, question.because) == (
        "Doppelt so lang:", "b", "Mehr Zeit.",
    )  # fmt: skip
    assert question.choices == {"a": "mehr", "b": "weniger"}
    assert "```" not in made.parts[1].text
    assert made.parts[2].tables[0][1][1] == ["0.2 m", "3.1"]
    assert made.parts[3].answer.strip() == "- Darum."
    assert made.parts[4].title == "Fehler"


@pytest.mark.parametrize(
    ("teacher", "told"),
    [
        (TEACHER.replace("**b**", "**c**"), "expected one of a, b, found c"),
        (TEACHER.replace("1. **b** Mehr Zeit.", ""), "found 0 to 1"),
        (TEACHER.replace("| 0.2 m |", "| 0.3 m |"), "the same tables"),
        (TEACHER.replace("| 0.2 m | 3.1 |\n", ""), "the same tables"),
    ],
)
def test_sheets_that_do_not_agree_are_refused(teacher, told):
    with pytest.raises(SheetError, match=told):
        lesson(STUDENT, teacher)


def test_a_cell_that_students_are_given_is_what_the_teacher_has():
    given = STUDENT.replace("| 0.2 m |  |", "| 0.2 m | 3.1 |")
    assert lesson(given, TEACHER).parts[2].tables[0][0][1] == ["0.2 m", "3.1"]
    with pytest.raises(SheetError, match="the same tables"):
        lesson(given.replace("3.1", "3.2"), TEACHER)


def test_a_sentence_that_leads_to_a_table_of_answers_goes_with_it():
    teacher = TEACHER.replace("| Länge", "So:\n\n| Länge").replace("- Darum.", "Und dies.")
    assert "So:" in teacher
    assert not any("So:" in part.answer for part in lesson(STUDENT, teacher).parts)


def test_markdown_is_escaped_and_marked():
    assert inline("**a** <b> `c_d` m^2 5 uL `5 uL` [x](y.md)") == (
        "<strong>a</strong> &lt;b&gt; <code>c_d</code> m² 5\u00a0µL <code>5 µL</code> x"
    )
    assert inline("pi a^4 sqrt(L/D), 1.2e-9 m^2/s, 2 mm x 3, x and copies") == (
        "π a<sup>4</sup> √(L/D), 1.2\u00a0×\u00a010<sup>−9</sup> m²/s, 2\u00a0mm × 3, x and copies"
    )
    kinds = [kind for kind, _ in marked("one\ntwo\n\n- a\n  b\n- c\n\n| x |\n| - |\n| y |")]
    assert kinds == ["p", "ul", "table"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    for name, text in (("student.md", STUDENT), ("teacher.md", TEACHER), ("one.toml", SCENARIO)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_lesson_of_ones_own_in_its_language(folder):
    done = CliRunner().invoke(main, ["page", "one.toml"])
    assert done.exit_code == 0, done.stderr
    page = SliderPage((folder / "one.html").read_text(encoding="utf-8"))
    html = dict(next(attrs for tag, attrs in page.elements if tag == "html"))
    assert html["lang"] == "de"
    stations = page.data["stations"]
    assert [one["version"] for one in stations] == [0, 1]
    assert stations[1]["scenario"]["path"][0]["length"] == "0.5 m"
    for text in ("Ein <Rohr>.", "Wie weit?", "Fest", "Schieben.", "kurz"):
        assert text in page.text
    assert "tailrace run" not in page.text.replace("tailrace page", "")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("trust =", "trusted =", 'write "trust"'),
        ('sheet = "student.md"', 'sheet = "none.md"', "expected a sheet in Markdown"),
        ('slide = ["tube.length = 0.5, 1 m"]', "", "expected sliders, found none"),
    ],
)
def test_a_page_that_cannot_be_is_refused_in_one_sentence(folder, old, new, told):
    (folder / "one.toml").write_text(SCENARIO.replace(old, new), encoding="utf-8")
    done = CliRunner().invoke(main, ["page", "one.toml"])
    assert done.exit_code == 2
    assert told in done.stderr
    assert not (folder / "one.html").exists()
