"""What a bench keeps beside its tables: settings, cups in hand, and learned state."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.errors import ConflictError, StoreError, TableError, nearest
from pairing.model.measures import FIRST, SYSTEMS
from pairing.store import ledger
from pairing.store.rights import check

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = [
    "DEFAULT_SETTINGS",
    "PRIOR",
    "PUBLIC_IDS",
    "as_rows",
    "as_text",
    "check_settings",
    "drop_draft",
    "drop_kept",
    "forget_learned",
    "is_kept",
    "keep",
    "kept",
    "kept_mark",
    "list_drafts",
    "load_blob",
    "load_draft",
    "public_ids",
    "read_sets",
    "read_settings",
    "restore",
    "save_draft",
    "save_set",
    "store_blob",
    "take_over",
    "write_settings",
]

DEFAULT_SETTINGS: Mapping[str, Any] = {
    "currency": "EUR",
    "jurisdiction": "EU",
    "scale_g": 0.1,
    "amounts": FIRST[0],
    "volumes": SYSTEMS[0],
}
"""Currency of all costs; whose food law counts (EU or US); smallest step of the scale in g; whether amounts are said in
drops, g or ml first; and volumes in metric or US units."""
_CHOICES = {"jurisdiction": ("EU", "US"), "amounts": FIRST, "volumes": SYSTEMS}
_SETS = "sets"
"""Row of the settings that holds the saved sets of bottles: no setting, since nothing is learned otherwise for them."""
BLOBS_KEPT = 8
_KEPT = "kept/"
"""What the keys of bytes begin with that are no cache."""
PRIOR, PUBLIC_IDS = "prior", "public-ids"
"""What is kept: what other kitchens know, and by which ids they know what is on this shelf."""
_CELL = 30_000
"""Characters of bytes in one cell of an export; a cell of a workbook holds 32,767."""


def check_settings(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return settings that are allowed.

    Raises
    ------
    StoreError
        When one is unknown or its value is not allowed.

    Examples
    --------
    >>> check_settings({"jurisdiction": "us"})
    {'jurisdiction': 'US'}
    """
    out: dict[str, Any] = {}
    for name, value in changes.items():
        if name not in DEFAULT_SETTINGS:
            raise StoreError(f"no setting {name!r}", nearest(name, DEFAULT_SETTINGS))
        if name == "scale_g":
            if not isinstance(value, (int, float)) or isinstance(value, bool) or not 0 < value <= 10:
                raise StoreError(f"scale_g is {value!r}, allowed is above 0 to 10", "give the scale's step in g")
            out[name] = float(value)
        elif name in _CHOICES:
            allowed = {word.casefold(): word for word in _CHOICES[name]}
            if str(value).casefold() not in allowed:
                raise StoreError(f"{name} is {value!r}", f"use {' or '.join(allowed.values())}")
            out[name] = allowed[str(value).casefold()]
        else:
            if not str(value).strip() or len(str(value)) > 10 or not str(value).isprintable():
                raise StoreError(f"currency is {value!r}", "write a short code such as EUR")
            out[name] = str(value).strip()
    return out


def read_settings(tx: Transaction) -> dict[str, Any]:
    """Return all settings."""
    rows = tx.execute(tx.table("settings").select()).all()
    return {**DEFAULT_SETTINGS, **{row.name: json.loads(row.value) for row in rows if row.name != _SETS}}


def read_sets(tx: Transaction) -> dict[str, list[str]]:
    """Return the saved sets of bottles by name."""
    table = tx.table("settings")
    row = tx.execute(table.select().where(table.c.name == _SETS)).one_or_none()
    return {} if row is None else dict(json.loads(row.value))


def as_text(settings: Mapping[str, Any]) -> dict[str, str]:
    """Return settings as they are kept."""
    return {name: json.dumps(value) for name, value in settings.items()}


def write_settings(tx: Transaction, changes: Mapping[str, Any]) -> None:
    """Change settings."""
    _write(tx, as_text(check_settings(changes)))


def save_set(tx: Transaction, name: str, item_ids: Sequence[str]) -> None:
    """Save a set of bottles by name, in place of one of that name; an empty one is forgotten."""
    sets = {**read_sets(tx), name: list(item_ids)}
    _write(tx, as_text({_SETS: {key: ids for key, ids in sets.items() if ids}}))


def _write(tx: Transaction, texts: Mapping[str, str]) -> None:
    check(tx, "settings")
    table = tx.table("settings")
    for name, value in texts.items():
        tx.execute(table.delete().where(table.c.name == name))
        tx.execute(table.insert(), {"name": name, "value": value})


def save_draft(tx: Transaction, draft_id: str, content: Mapping[str, Any], expected: int | None) -> int:
    """Save a cup in hand and return its version.

    Raises
    ------
    ConflictError
        When it has been saved since by somebody else: another tab, another phone.
    StoreError
        When who saves it may not log cups.
    """
    check(tx, "log")
    table = tx.table("drafts")
    row = tx.execute(table.select().where(table.c.draft_id == draft_id)).one_or_none()
    version = 0 if row is None else int(row.version)
    if expected is not None and expected != version:
        raise ConflictError(
            f"draft {draft_id!r} is at version {version}, you have version {expected}",
            "load it again: another tab has gone on with this cup",
        )
    try:
        text = json.dumps(dict(content), allow_nan=False)
    except (TypeError, ValueError) as error:
        raise StoreError(f"draft {draft_id!r} cannot be kept: {error}", "use text, numbers, lists and dicts") from None
    values = {"version": version + 1, "saved_at": ledger.now(), "content": text}
    if row is None:
        tx.execute(table.insert(), {"draft_id": draft_id, **values})
    else:
        tx.execute(table.update().where(table.c.draft_id == draft_id).values(**values))
    return version + 1


def load_draft(tx: Transaction, draft_id: str) -> dict[str, Any] | None:
    """Return a draft, or None when there is none."""
    table = tx.table("drafts")
    row = tx.execute(table.select().where(table.c.draft_id == draft_id)).one_or_none()
    return None if row is None else json.loads(row.content)


def list_drafts(tx: Transaction) -> list[dict[str, Any]]:
    """Return id, version and time of every draft, last saved first."""
    table = tx.table("drafts")
    query = table.select().order_by(table.c.saved_at.desc())
    return [{"draft_id": r.draft_id, "version": int(r.version), "saved_at": r.saved_at} for r in tx.execute(query)]


def drop_draft(tx: Transaction, draft_id: str) -> None:
    """Forget a draft; one that is not there is fine."""
    table = tx.table("drafts")
    tx.execute(table.delete().where(table.c.draft_id == draft_id))


def store_blob(tx: Transaction, key: str, content: bytes) -> None:
    """Keep bytes under a key; the oldest of more than eight are forgotten."""
    table = tx.table("blobs")
    tx.execute(table.delete().where(table.c.key == key))
    tx.execute(table.insert(), {"key": key, "saved_at": ledger.now(), "content": content})
    query = table.select().with_only_columns(table.c.key).order_by(table.c.saved_at.desc())
    found = (old for old in tx.execute(query).scalars().all() if not is_kept(old))
    others = [old for old in found if old != key]  # the clock may have gone backwards
    for old in others[BLOBS_KEPT - 1 :]:
        tx.execute(table.delete().where(table.c.key == old))


def keep(tx: Transaction, name: str, content: bytes) -> None:
    """Keep bytes under a name until they are dropped or replaced.

    Raises
    ------
    StoreError
        When who writes may not change settings: it changes every answer.
    """
    drop_kept(tx, name)
    tx.execute(tx.table("blobs").insert(), {"key": _KEPT + name, "saved_at": ledger.now(), "content": content})


def kept(tx: Transaction, name: str) -> bytes | None:
    """Return what is kept under a name, or None."""
    return load_blob(tx, _KEPT + name)


def kept_mark(tx: Transaction) -> str:
    """Tell when what is kept was last changed."""
    table = tx.table("blobs")
    query = table.select().with_only_columns(table.c.key, table.c.saved_at).where(table.c.key.like(f"{_KEPT}%"))
    return " ".join(sorted(f"{row.key}@{row.saved_at}" for row in tx.execute(query)))


def is_kept(key: str) -> bool:
    """Whether bytes of this key are no cache."""
    return key.startswith(_KEPT)


def drop_kept(tx: Transaction, name: str) -> None:
    """Drop what is kept under a name; nothing there is fine."""
    check(tx, "settings")
    table = tx.table("blobs")
    tx.execute(table.delete().where(table.c.key == _KEPT + name))


def public_ids(tx: Transaction) -> dict[str, str]:
    """Return the public id of each base and flavouring that has one; the empty text keeps it at home."""
    held = kept(tx, PUBLIC_IDS)
    return {} if held is None else dict(json.loads(held))


def take_over(tx: Transaction, prior: bytes | None, public: Mapping[str, str]) -> bool:
    """Take what another bench had adopted where this one has nothing, and its public ids; tell whether a prior came."""
    mine = public_ids(tx)
    if new := public.keys() - mine.keys():
        both = {**{own: public[own] for own in new}, **mine}
        keep(tx, PUBLIC_IDS, json.dumps(both, sort_keys=True).encode())
    if prior is None or kept(tx, PRIOR) is not None:
        return False
    keep(tx, PRIOR, prior)
    return True


def forget_learned(tx: Transaction) -> None:
    """Forget all learned state; it is learned again."""
    table = tx.table("blobs")
    tx.execute(table.delete().where(table.c.key.not_like(f"{_KEPT}%")))


def load_blob(tx: Transaction, key: str) -> bytes | None:
    """Return the bytes under a key, or None."""
    table = tx.table("blobs")
    row = tx.execute(table.select().where(table.c.key == key)).one_or_none()
    return None if row is None else bytes(row.content)


def as_rows(tx: Transaction) -> dict[str, list[list[str]]]:
    """Return settings, cups in hand and what is kept of other kitchens as they are exported, by name."""
    sets = read_sets(tx)
    settings = sorted(as_text({**read_settings(tx), **({_SETS: sets} if sets else {})}).items())
    table = tx.table("drafts")
    names = ("draft_id", "version", "saved_at", "content")
    drafts = [[str(getattr(row, name)) for name in names] for row in tx.execute(table.select().order_by("draft_id"))]
    return {
        "settings": [["name", "value"], *map(list, settings)],
        "drafts": [list(names), *drafts],
        "kept": [["name", "content"], *_kept_rows(tx)],
    }


def _kept_rows(tx: Transaction) -> list[list[str]]:
    """List what is kept, bytes as text, as many rows as it takes."""
    out = []
    for name in (PRIOR, PUBLIC_IDS):
        text = (kept(tx, name) or b"").hex()
        out += [[name, text[start : start + _CELL]] for start in range(0, len(text), _CELL)]
    return out


def restore(tx: Transaction, past: Mapping[str, Any]) -> None:
    """Put settings, cups in hand and what was kept of an export into a bench that has none of its own."""
    if (settings := past.get("settings")) is not None:
        try:
            given = {name: json.loads(value) for name, value in zip(settings["name"], settings["value"], strict=True)}
        except (KeyError, ValueError) as error:
            raise TableError(f"settings are not as they were exported: {error}", "leave the file away") from None
        for name, ids in dict(given.pop(_SETS, {})).items():
            save_set(tx, name, ids)
        write_settings(tx, given)
    if (drafts := past.get("drafts")) is not None:
        there = {row["draft_id"] for row in list_drafts(tx)}
        rows = [
            {**row, "version": int(row["version"])}
            for row in drafts.astype(object).to_dict("records")
            if row["draft_id"] not in there
        ]
        if rows:
            tx.execute(tx.table("drafts").insert(), rows)
    if (held := past.get("kept")) is not None:
        try:
            texts = held.groupby("name", sort=False)["content"].agg("".join)
            contents = {str(name): bytes.fromhex(text) for name, text in texts.items()}
        except (KeyError, TypeError, ValueError) as error:
            raise TableError(f"kept is not as it was exported: {error}", "leave the file away") from None
        for name in {PRIOR, PUBLIC_IDS} & contents.keys():
            if kept(tx, name) is None:
                keep(tx, name, contents[name])
