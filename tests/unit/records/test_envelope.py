"""Signatures beside a record: what they name, and that nothing can be exchanged unseen."""

import hashlib
import json

import pytest
from click.testing import CliRunner
from reference.tree import ROOT

import tailrace
from tailrace.cli.main import main
from tailrace.records.envelope import (
    EnvelopeError,
    canonical,
    envelope_of,
    enveloped,
    signatures_of,
)

TIME = "2026-05-04T09:30:00+02:00"
WHO = ["--name", "A. Person", "--reason", "release of method 7", "--meaning", "approver"]


def invoke(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments])


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("record")
    done = invoke("run", ROOT / "scenarios" / "bare-tube.toml", "--out", folder)
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture
def record(made, tmp_path):
    copy = tmp_path / "record.h5"
    copy.write_bytes((made / "record.h5").read_bytes())
    return copy


@pytest.fixture(scope="module")
def twice(made):
    """The record, signed by two people: the bytes of what lies beside it."""
    record = made / "twice.h5"
    record.write_bytes((made / "record.h5").read_bytes())
    signed(record)
    signed(record, "--name", "B. Person")
    return envelope_of(record).read_bytes()


def signed(record, *more):
    return invoke("sign", record, *WHO, "--time", TIME, *more)


def test_a_signature_names_the_record_and_leaves_it(record):
    before = record.read_bytes()
    assert signed(record).exit_code == 0
    assert record.read_bytes() == before
    text = envelope_of(record).read_bytes()
    (one,) = json.loads(text)["signatures"]
    assert text == canonical(json.loads(text))
    assert one["record_sha256"] == hashlib.sha256(before).hexdigest()
    assert one["time"] == "2026-05-04T07:30:00+00:00"
    assert (one["name"], one["meaning"]) == ("A. Person", "approver")


def test_verify_and_report_show_it(record, made):
    plain = (made / "report.html").read_text()
    signed(record)
    told = invoke("verify", record)
    assert told.exit_code == 0 and "Signed by A. Person as approver" in told.stdout
    assert invoke("report", record).exit_code == 0
    page = record.with_suffix(".html").read_text()
    assert "release of method 7" in page and "release of method 7" not in plain
    seal = signatures_of(record)[0].seal
    assert seal in page and seal in plain
    assert f"document {seal[:12]}" in page and "counter(pages)" in page


@pytest.mark.parametrize("key", ["name", "reason", "meaning", "time", "seal", "record_sha256"])
def test_what_is_altered_is_noticed(record, twice, key):
    file = envelope_of(record)
    content = json.loads(twice)
    content["signatures"][0][key] += "x"
    file.write_bytes(canonical(content))
    with pytest.raises(EnvelopeError, match=r"signature [12]"):
        signatures_of(record)
    assert invoke("verify", record).exit_code == 2


@pytest.mark.parametrize(
    "spoil",
    [
        lambda rows: rows[1:],
        lambda rows: rows[::-1],
        lambda rows: [{**rows[0], "more": ""}],
        lambda rows: [{**rows[0], "name": 3}],
    ],
)
def test_entries_hang_together(record, twice, spoil):
    file = envelope_of(record)
    file.write_bytes(twice)
    rows = json.loads(twice)["signatures"]
    assert rows[1]["previous"] == signatures_of(record)[0].sha256
    file.write_bytes(enveloped(spoil(rows)))
    with pytest.raises(EnvelopeError, match="take the original"):
        signatures_of(record)


def test_those_of_another_record_are_refused(twice, tmp_path):
    other = tmp_path / "other.h5"
    tailrace.run(ROOT / "scenarios" / "lessons" / "bore.toml").save(other)
    envelope_of(other).write_bytes(twice)
    with pytest.raises(EnvelopeError, match="of another record"):
        signatures_of(other)


@pytest.mark.parametrize("more", [("--time", "2026-05-04"), ("--name", " "), ("--reason", "\x1b")])
def test_each_slip_has_its_sentence(record, more):
    done = signed(record, *more)
    assert done.exit_code == 2 and "expected" in done.output
    assert not envelope_of(record).exists()


def test_a_key_signs_and_another_does_not_pass(record, tmp_path):
    ed25519 = pytest.importorskip("cryptography.hazmat.primitives.asymmetric.ed25519")
    from cryptography.hazmat.primitives import serialization

    key = ed25519.Ed25519PrivateKey.generate()
    file = tmp_path / "key.pem"
    file.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    assert signed(record, "--key", file).exit_code == 0
    (one,) = signatures_of(record)
    assert one.fingerprint == hashlib.sha256(key.public_key().public_bytes_raw()).hexdigest()
    content = json.loads(envelope_of(record).read_text())
    content["signatures"][0]["name"] = "C. Person"
    envelope_of(record).write_bytes(canonical(content))
    with pytest.raises(EnvelopeError, match="its key did not make"):
        signatures_of(record)
