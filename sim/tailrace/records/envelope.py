"""Who stands for a record, when and why: a file beside it, so that the record keeps its bytes.

``RECORD.h5.signed.json`` is canonical JSON (keys sorted, no blanks, UTF-8). Each signature names
the SHA-256 of the record's bytes and that of the signature before it, and the file one over all of
them: what is altered by accident is noticed. A key (Ed25519, PEM) makes a signature that only its
holder can have made; without one an entry says who signed, and proves nothing of it.
"""

import base64
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from tailrace.errors import TailraceError
from tailrace.records.seal import check_seal

ENDING = ".signed.json"
MOST = 1_000_000
"""Bytes of an envelope."""
LONGEST = 500
"""Characters of a name, a reason or a meaning."""
KEYLESS = ("signature", "public_key")


class EnvelopeError(TailraceError):
    """A signature that cannot be made, or an envelope that does not hold."""


@dataclass(frozen=True, kw_only=True)
class Signature:
    """One entry; texts but for the hashes are as the signer gave them."""

    record_sha256: str
    seal: str
    previous: str
    name: str
    reason: str
    meaning: str
    time: str
    signature: str = ""
    public_key: str = ""

    @property
    def signed(self) -> bytes:
        """What a key signs, and the next entry names: canonical JSON of all but the key's part."""
        values = {one.name: getattr(self, one.name) for one in fields(self)}
        return canonical({name: text for name, text in values.items() if name not in KEYLESS})

    @property
    def sha256(self) -> str:
        """Of the whole entry."""
        return hashlib.sha256(self.signed + self.signature.encode()).hexdigest()

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the public key; empty without."""
        key = base64.b64decode(self.public_key)
        return hashlib.sha256(key).hexdigest() if key else ""


def canonical(value: Mapping[str, Any]) -> bytes:
    """A JSON object in the one form that it has here."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def envelope_of(record: Path) -> Path:
    """Where the signatures of a record lie."""
    return record.with_name(record.name + ENDING)


def signed(
    record: Path, name: str, reason: str, meaning: str, time: str, key: Path | None = None
) -> bytes:
    """The envelope of a record with one more signature.

    ``time``: RFC 3339. Raises EnvelopeError for an empty text, for earlier signatures that do not
    hold, for a key that is none; SealError where the record is not as it was written.
    """
    for what, text in (("name", name), ("reason", reason), ("meaning", meaning)):
        if not text.strip() or len(text) > LONGEST or not text.isprintable():
            raise EnvelopeError(
                f"--{what}: expected 1 to {LONGEST} printable characters, found "
                f"{len(text) if text.isprintable() else 'others'}; write who, why or as what"
            )
    before = signatures_of(record)
    entry = Signature(
        record_sha256=hashlib.sha256(record.read_bytes()).hexdigest(),
        seal=check_seal(record),
        previous=before[-1].sha256 if before else "",
        name=name,
        reason=reason,
        meaning=meaning,
        time=time,
    )
    if key is not None:
        entry = _with_key(entry, key)
    return enveloped([vars(one) for one in (*before, entry)])


def enveloped(entries: list[dict[str, Any]]) -> bytes:
    """The bytes of an envelope."""
    digest = hashlib.sha256(canonical({"signatures": entries})).hexdigest()
    return canonical({"envelope": 1, "sha256": digest, "signatures": entries})


def signatures_of(record: Path) -> tuple[Signature, ...]:
    """The signatures of a record, each held against it; none without an envelope.

    Raises EnvelopeError in one sentence where one is not of this record, or was altered.
    """
    file = envelope_of(record)
    if not file.exists():
        return ()
    try:
        text = file.read_bytes()[: MOST + 1]
        content = json.loads(text)
        entries = tuple(Signature(**one) for one in content["signatures"])
        whole = all(isinstance(text, str) for one in entries for text in vars(one).values())
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise _broken(file, f"another ({type(problem).__name__})") from None
    if not whole or content.get("envelope") != 1 or text != canonical(content):
        raise _broken(file, "one that was written otherwise")
    content_sha256, seal = hashlib.sha256(record.read_bytes()).hexdigest(), check_seal(record)
    previous = ""
    for number, one in enumerate(entries, 1):
        if (one.record_sha256, one.seal) != (content_sha256, seal):
            raise _broken(file, f"signature {number} ({one.name}) of another record")
        if one.previous != previous:
            raise _broken(file, f"signature {number} ({one.name}) behind another than it names")
        if one.public_key and not _holds(one):
            raise _broken(file, f"signature {number} ({one.name}) that its key did not make")
        previous = one.sha256
    if text != enveloped(content["signatures"]):
        raise _broken(file, "another sum of them")
    return entries


def _broken(file: Path, found: str) -> EnvelopeError:
    return EnvelopeError(
        f"{file}: expected signatures of the record beside it, found {found}; take the original of "
        "both"
    )


def _library() -> Any:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise EnvelopeError(
            "a signature with a key: expected the library cryptography, found none; "
            'pip install "tailrace[sign]", or sign without a key'
        ) from None
    return ed25519


def _with_key(entry: Signature, file: Path) -> Signature:
    ed25519 = _library()
    from cryptography.hazmat.primitives import serialization

    try:
        key = serialization.load_pem_private_key(file.read_bytes(), None)
    except (OSError, ValueError, TypeError):
        key = None
    if not isinstance(key, ed25519.Ed25519PrivateKey):
        raise EnvelopeError(
            f"--key {file}: expected an Ed25519 private key in PEM without a password, found "
            "another file; `openssl genpkey -algorithm ed25519` makes one"
        )
    public = key.public_key().public_bytes_raw()
    return replace(
        entry,
        public_key=base64.b64encode(public).decode(),
        signature=base64.b64encode(key.sign(entry.signed)).decode(),
    )


def _holds(one: Signature) -> bool:
    ed25519 = _library()
    try:
        key = ed25519.Ed25519PublicKey.from_public_bytes(base64.b64decode(one.public_key))
        key.verify(base64.b64decode(one.signature), one.signed)
    except Exception:  # whatever the library says of it: it does not hold
        return False
    return True
