from plugin_lab import BROKEN, drop_in

from pairing.host import load
from pairing.host.trying import try_out
from pairing.model.shelf import Shelf
from pairing.testing import sample_shelf


def test_rules_are_timed_and_faults_found_before_anybody_asks(tmp_path):
    body, head = BROKEN["nan"]
    drop_in(tmp_path, "nan", body, head=head)
    loaded = load(tmp_path, only="nan,fat-holds-back,curdling")
    assert all(rule.clock.ms_per_1000 is None for rule in loaded.rules)
    faults = [fault for fault in try_out(loaded, sample_shelf(), 500) if not fault.note]
    assert [fault.subject for fault in faults] == ["nan:nan"]
    assert all(rule.clock.ms_per_1000 > 0 for rule in loaded.rules)
    rows = {rule.id: rule.clock.rows for rule in loaded.rules}
    assert rows["curdling:likely"] == 500
    assert 500 < rows["fat-holds-back:aroma"] <= 1500, "one row per addition"


def test_nothing_is_asked_about_an_empty_shelf():
    loaded = load(only="curdling")
    assert try_out(loaded, Shelf.of([], [])) == ()
    assert loaded.rules[0].clock.calls == 0
