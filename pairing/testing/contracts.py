"""What every plugin has to keep to, as tests; and what bases, look-ups and file formats have to."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

import pandas as pd
import pytest

from pairing.api import Writer
from pairing.host import Host, load_module
from pairing.host.formats import read_file, write_file
from pairing.host.handshake import check_api, marked
from pairing.host.registry import new_registry, register
from pairing.host.taking import as_tables
from pairing.model.shelf import Shelf
from pairing.nutrition.possible import check_possible
from pairing.quantities.directions import label_dose
from pairing.testing.kitchen import sample_shelf, sample_tables

__all__ = ["BaseContract", "CompositionContract", "FlavouringContract", "FormatContract", "PluginContract"]


class PluginContract:
    """Any plugin. Set ``plugin`` to the module, and ``settings`` if it needs some."""

    plugin: ClassVar[Any]
    settings: ClassVar[Mapping[str, Any]] = {}

    @pytest.fixture
    def host(self) -> Host:
        """Return a host with this plugin alone; any fault fails the test that asks for it."""
        return load_module(self.plugin, "tested", self.settings, strict=True)

    def test_api_version_is_accepted(self) -> None:
        """``PAIRING_API`` is declared and fits."""
        assert check_api(self.plugin)

    def test_every_hook_is_known(self) -> None:
        """Every marked function is a hook, and takes what the hook hands over."""
        hooks = dict(marked(self.plugin))
        assert hooks, "no function is marked with @hookimpl"
        registry = new_registry()
        for name, function in hooks.items():
            register(registry, "tested", name, function)

    def test_loads_the_same_twice(self) -> None:
        """Loading changes nothing and does not depend on what was loaded before."""
        first, second = (load_module(self.plugin, "tested", self.settings, strict=True) for _ in range(2))
        assert first.fingerprint == second.fingerprint
        assert first.bases == second.bases
        assert first.flavourings == second.flavourings


class BaseContract(PluginContract):
    """A plugin that brings bases."""

    def test_bases_come_with_a_source(self, host: Host) -> None:
        """There is at least one base, and each says where its figures are from."""
        assert host.bases
        for base in host.bases:
            assert base.source, f"{base.base_id} has no source"

    def test_composition_adds_up(self, host: Host) -> None:
        """Parts are within the whole, sugars within the carbohydrate, and the energy is what the parts give."""
        for base in host.bases:
            check_possible(base)


class FlavouringContract(PluginContract):
    """A plugin that brings flavourings."""

    def test_flavourings_come_with_a_source_and_a_direction(self, host: Host) -> None:
        """There is at least one, each says where its figures are from, and a direction gives a dose in some base."""
        assert host.flavourings
        shelf = Shelf.of(sample_shelf().bases.values(), host.flavourings)
        for flavouring in host.flavourings:
            assert flavouring.source, f"{flavouring.flavouring_id} has no source"
            doses = [label_dose(flavouring, base) for base in shelf.bases.values()]
            assert any(doses), f"{flavouring.flavouring_id}: its direction gives no dose"

    def test_one_can_be_taken_onto_a_shelf(self, host: Host) -> None:
        """What is offered can be put into the bench's own tables."""
        for flavouring in host.flavourings:
            assert as_tables(host, [flavouring.flavouring_id])["flavourings"]["flavouring_id"].tolist()


class CompositionContract(PluginContract):
    """A plugin that looks up compositions. Set ``known`` to a name that it finds."""

    known: ClassVar[str]

    def test_a_known_name_is_found(self, host: Host) -> None:
        """It is found, with at least one value, in any case of letters."""
        found = host.compositions(self.known)[0]
        assert found, f"nothing is found for {self.known!r}"
        assert host.compositions(self.known.upper())[0] == found
        assert all(entry.values for entry in found)

    def test_what_is_not_there_is_not_found(self, host: Host) -> None:
        """Nonsense, and nothing, find nothing and break nothing."""
        for text in ("", "  ", "zz no such drink zz", "'; \\ %_*?(["):
            assert host.compositions(text)[0] == (), f"something is found for {text!r}"


class FormatContract(PluginContract):
    """A plugin that reads and writes a kind of file: what it writes it reads again, the same.

    A writer without a reader of the same id is tried for writing alone.
    """

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return what is written: an invented bench's tables."""
        return sample_tables()

    @pytest.fixture
    def writers(self, host: Host) -> tuple[Writer, ...]:
        """Return the writers, of which there has to be one."""
        assert host.writers, "pairing_writers returned no writer"
        return host.writers

    def test_what_is_written_reads_the_same(self, host: Host, writers: tuple[Writer, ...], tmp_path: Path) -> None:
        """All tables that the format can hold come back with the same rows, columns and cells."""
        for writer in writers:
            given = {n: t for n, t in self.tables().items() if not writer.tables or n in writer.tables}
            path = tmp_path / f"sample{writer.suffixes[0]}"
            write_file(writer, given, path)
            if any(reader.id == writer.id for reader in host.readers):
                found, faults = read_file(host, path)
                assert not faults
                _assert_same(given, found or {}, writer.id)

    def test_writing_leaves_nothing_else_and_changes_nothing(self, writers: tuple[Writer, ...], tmp_path: Path) -> None:
        """One file, and the tables that were handed over are as they were."""
        for writer in writers:
            given = {n: t for n, t in self.tables().items() if not writer.tables or n in writer.tables}
            path = tmp_path / f"sample{writer.suffixes[0]}"
            write_file(writer, given, path)
            assert [p.name for p in tmp_path.iterdir()] == [path.name]
            _assert_same({n: self.tables()[n] for n in given}, given, writer.id)
            path.unlink()


def _assert_same(given: Mapping[str, pd.DataFrame], found: Mapping[str, pd.DataFrame], what: str) -> None:
    """Compare tables cell by cell, an empty cell with an empty cell, a column that is empty with none."""
    for name, table in given.items():
        if len(table):
            assert name in found, f"{what}: {name} did not come back"
            frames = [frame.reindex(columns=table.columns).astype(object) for frame in (table, found[name])]
            before, after = (f.where(f.notna(), None).to_numpy().tolist() for f in frames)
            assert after == before, f"{what}: {name} came back otherwise"
