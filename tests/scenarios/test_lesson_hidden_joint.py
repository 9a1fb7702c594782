"""The twelfth lesson: the fault is found, by the program and by hand, and nothing else is."""

import numpy as np
import pytest
from reference.lessons import (
    FOLDER,
    HIDDEN,
    TAILING,
    VARIANCE,
    WIDTH,
    hidden_files,
    sheet,
    tables,
)
from reference.residuals import left_over

import tailrace
from tailrace.report.numbers import significant
from tailrace.studies.measured.bench import signals
from tailrace.web.stations import version_of


def test_the_hidden_joint_is_found_and_no_other():
    for name, content in hidden_files().items():
        assert (FOLDER / name).read_bytes() == content
    read_off = tables(sheet("hidden-joint", "teacher"))[2][1:]
    for _, seen, made_of, apart, _ in read_off:
        (one, its), (other, with_it) = (map(float, x.split(" ± ")) for x in (seen, made_of))
        by_hand = abs(one - other) / np.hypot(its, with_it)
        assert abs(by_hand - float(apart)) < 0.1
    telling = [row[4] for row in read_off]
    assert telling == ["no", "no", "no", "no", "yes", "yes"]
    rows = tables(sheet("hidden-joint", "teacher"))[1][1:]
    assert [row[4] for row in rows] == ["no", "yes", "yes", "yes"]
    value, error = (float(one) for one in rows[0][1].split()[0:3:2])
    assert abs(value - float(HIDDEN["joint.gap_length"].split()[0])) < 2 * error
    # by how many of the owner's uncertainties the fit of the others moved them
    known = ((0.05, 0.1), (2.0, 0.05), (0.12, 0.03))
    away = [
        abs(float(row[1].split()[0]) - most) / (share * most)
        for row, (most, share) in zip(rows[1:], known, strict=True)
    ]
    assert [significant(one, 2) for one in away] == ["2.8", "1.3", "1.7"]


def apart(version, field, value):
    """By how many times its noise a measured signal of the twelfth lesson differs."""
    believed = tailrace.load(FOLDER / "hidden-joint.toml")
    table = believed.document.page.versions[version]
    base = tailrace.load(FOLDER / table.file) if table.file else believed
    instrument, told = version_of(base, table)
    return left_over(told, signals([instrument.changed({field: value}).itinerary()]))


def test_how_surely_the_fault_is_found_by_hand():
    def most(gap):
        return max(apart(version, "joint.gap_length", f"{gap} mm") for version in range(3))

    # 0.49 to 0.52 mm, told to a hundredth
    assert max(most(0.49), most(0.52)) < 1.1 < min(most(0.48), most(0.53))
    constant = "detector.time_constant"
    told = [apart(version, constant, "0.118 s") for version in range(3, 6)]
    assert min(told) > 1.0
    assert max(told) < 1.2
    fast = [apart(5, constant, f"{one} s") for one in (0.117, 0.118, 0.119)]
    assert fast[1] == min(fast)
    truth = (FOLDER.parent / "measured" / "answers.md").read_text("utf-8")
    assert "0.119 s in place of 0.05 s" in truth


def test_the_joint_behind_the_union_would_do_as_the_one_before_it():
    page = tailrace.load(FOLDER / "hidden-joint.toml").document.page
    table = next(one for one in page.versions if one.file)
    union, _ = version_of(tailrace.load(FOLDER / table.file), table)
    two = [
        tailrace.run(union.changed({f"joint {where}.gap_length": "0.5 mm"})).recorded
        for where in ("before", "behind")
    ]
    for name in (TAILING, WIDTH, VARIANCE):
        assert two[0][name][0] == pytest.approx(two[1][name][0], rel=1e-3)


def test_what_the_page_reads_is_a_little_larger_than_what_is_treated_as_measured():
    sheets = " ".join(sheet("hidden-joint").read_text("utf-8").split())
    believed = tailrace.load(FOLDER / "hidden-joint.toml")
    versions = [one for one in believed.document.page.versions if not one.file]
    whole = [tailrace.run(version_of(believed, one)[0]).recorded for one in versions]
    rows = tables(sheet("hidden-joint", "teacher"))[2][1:]
    for name, three in ((VARIANCE, rows[:3]), (TAILING, rows[3:])):
        for row, one in zip(three, whole, strict=True):
            treated, known = (float(x) for x in row[2].split(" ± "))
            assert 0 < one[name][0] - treated < known, row[0]
    told = f"{significant(whole[1][VARIANCE][0], 4)} s^2 and {significant(whole[1][TAILING][0], 4)}"
    assert f"a little larger: as run {told}." in sheets
