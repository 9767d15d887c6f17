"""What comes with the tool, and how a load finds what is installed beside it."""

import importlib.metadata

import pytest
from plugin_lab import GOOD_RULE, install

from pairing import host
from pairing.api import hookimpl
from pairing.errors import PluginError
from pairing.host import core


@pytest.mark.parametrize("strict", [False, True])
def test_one_that_is_shipped_is_watched_with_the_others_that_are(tmp_path, monkeypatch, strict):
    from pairing.quantities import directions
    from pairing_plugins import curdling, salt_and_bitter

    def replacing(settings):
        directions.label_dose = lambda *_: 1
        return []

    was, looked = directions.label_dose, []
    monkeypatch.setattr(core, "seen", lambda seen=core.seen: looked.append(1) or seen())
    host.load(tmp_path)
    assert len(looked) <= 2, "not at every hook of two dozen plugins"
    monkeypatch.setattr(salt_and_bitter, "pairing_rules", hookimpl(replacing))
    if strict:
        monkeypatch.setattr(curdling, "pairing_rules", hookimpl(lambda settings: 1 / 0))
        with pytest.raises(PluginError):
            host.load(only="curdling, salt-and-bitter", strict=True)
    else:
        (told,) = host.load(tmp_path, "curdling, salt-and-bitter").faults
        assert "it replaced pairing.quantities.directions.label_dose by what stands at " in told.line
        assert (told.plugin, __file__ in told.line) == ("pairing_plugins", True)
    assert directions.label_dose is was


def test_installed_packages_are_read_again_only_when_one_has_changed(site, monkeypatch):
    install(site, "kitchen", GOOD_RULE)
    read = []
    real = importlib.metadata.entry_points
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda **group: read.append(1) or real(**group))
    for _ in range(3):
        assert [r.id for r in host.load(only="kitchen").rules] == ["kitchen:good"]
    assert len(read) == 1
    install(site, "pantry", GOOD_RULE)
    assert {r.id for r in host.load(only="kitchen, pantry").rules} == {"kitchen:good", "pantry:good"}
    points = site / "pantry-1.0.dist-info" / "entry_points.txt"
    points.write_text(points.read_text().replace("pantry =", "larder ="))
    assert [r.id for r in host.load(only="larder").rules] == ["larder:good"]
