"""``[page]``: what a page made of the scenario shows, and the words on it."""

from pydantic import Field

from tailrace.quantities.fields import Table


class VersionTable(Table):
    """One of several instruments between which a page changes over."""

    name: str = Field(min_length=1, max_length=80, examples=["filter behind the column"])
    file: str = Field(
        "",
        max_length=500,
        examples=["two-tails-b.toml"],
        description="A scenario of its own, relative to this file.",
    )
    changes: list[str] = Field(
        default_factory=list,
        examples=[["filter behind"]],
        description="Names of `[[changes]]` that make it; neither file nor changes: as it stands.",
    )
    slide: list[str] = Field(
        default_factory=list,
        examples=[["t0.length = 50, 100 mm"]],
        description="Its sliders, where they are others than those of the page.",
    )
    measured: str = Field(
        "",
        max_length=80,
        examples=["slow"],
        description="One of `[[measured]]`, of its `file` if it has one: the signal is drawn, the "
        "instrument as it was then.",
    )


class PageTable(Table):
    """What `tailrace page` shows where nothing else is asked, and the words on the page."""

    language: str = Field(
        "en",
        pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]{1,8})*$",
        examples=["de"],
        description="Of the page, as browsers and readers of screens know it: all its words in "
        "en and de; introduction and headings are as you write them.",
    )
    introduction: str = Field(
        "", max_length=5000, examples=["Move one slider at a time."], description="Above all else."
    )
    headings: dict[str, str] = Field(
        default_factory=dict,
        examples=[{"trust": "Wie weit darf man dem trauen?"}],
        description="Headings and buttons in words of your own, by their names.",
    )
    slide: list[str] = Field(
        default_factory=list,
        examples=[["tube.length = 125, 250, 500 mm"]],
        description="Sliders, as `--slide`.",
    )
    solutes: list[str] = Field(
        default_factory=list, examples=[["early"]], description="Shown, as `--solute`."
    )
    steps: list[str] = Field(
        default_factory=list,
        examples=[["Move the length through its stops."]],
        description="What to do with the sliders, of a lesson.",
    )
    stops: bool = Field(
        False,
        description="Sliders stop only where the solver has computed, also where the page could "
        "compute, so that versions look alike.",
    )
    sheet: str = Field(
        "",
        max_length=500,
        examples=["bore.md"],
        description="Of a lesson: its sheet for students, relative to this file.",
    )
    answers: str = Field(
        "", max_length=500, examples=["teacher/bore.md"], description="Its sheet for teachers."
    )
    versions: list[VersionTable] = Field(
        default_factory=list,
        max_length=12,
        description="Instruments between which the page changes over.",
    )
