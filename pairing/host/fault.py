"""What went wrong in a plugin, as a value, and in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pairing.errors import PluginError, first_few

__all__ = ["Fault", "told"]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """What went wrong in a plugin, or what it had to leave out.

    Attributes
    ----------
    plugin, stage, hook, subject : str
        Which plugin, when (import, handshake, hook, object, scoring, …), in which hook, about which object.
    error : str
        What happened, with the value and what is allowed.
    ids : tuple of str
        Of the bases or flavourings that it is about, where a fact is lacking.
    remedy : str
        What to change.
    where : str
        ``file:line`` in the plugin, empty if unknown.
    note : bool
        True when nothing is broken but a person should know, such as rows with unknown values.
    raised : str
        What was raised, where that was no refusal in words.
    """

    plugin: str
    stage: str
    error: str
    hook: str = ""
    subject: str = ""
    remedy: str = ""
    where: str = ""
    note: bool = False
    ids: tuple[str, ...] = ()
    raised: str = ""

    @property
    def line(self) -> str:
        """All of it in one line."""
        return f"plugin {self.plugin}: {self.happened}"

    @property
    def happened(self) -> str:
        """What happened, where and what to change, without the plugin's name."""
        what = f"rule {self.subject} skipped" if self.stage == "scoring" and not self.note else self.subject
        error = f"{_with_ids(self.error, self.ids)}{f' — {self.remedy}' if self.remedy else ''}"
        parts = [self.hook, what, error]
        where = f" ({self.where})" if self.where else ""
        return " ".join((": ".join(p for p in parts if p) + where).split())

    @property
    def key(self) -> str:
        """Faults with one key are told once: a rule that fails does so on every table, each time with other counts."""
        return self.line if self.note and self.stage == "scoring" else f"{self.plugin} {self.stage} {self.subject}"

    def as_error(self) -> PluginError:
        """Return it as an exception, for strict loading."""
        return PluginError(self.line, "" if self.remedy else "mend or remove the plugin, or leave it out by --plugins")


def told(faults: Iterable[Fault], names: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """Return notes for people, one for each fact that is lacking, with the rules and the named items that it is about.

    Faults are left out.

    Examples
    --------
    >>> notes = [Fault(plugin="p", stage="scoring", subject=f"p:{x}", error="says nothing", note=True) for x in "ab"]
    >>> told(notes)
    ['p:a, p:b: says nothing']
    """
    subjects: dict[str, dict[str, None]] = {}
    lacking: dict[str, dict[str, None]] = {}
    for fault in faults:
        if fault.note:
            subjects.setdefault(fault.error, {})[fault.subject or fault.plugin] = None
            lacking.setdefault(fault.error, {}).update(dict.fromkeys(fault.ids))
    return [
        f"{', '.join(named)}: {_with_ids(fact, tuple(names.get(i, i) for i in lacking[fact]))}"
        for fact, named in subjects.items()
    ]


def _with_ids(fact: str, ids: tuple[str, ...]) -> str:
    """Append the ids that a fact is about, the first few by name."""
    return f"{fact}: {first_few(ids)}" if ids else fact
