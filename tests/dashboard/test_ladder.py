"""The ladder of a cup: a row for every sip below its flavouring."""

from pairing_dashboard.cup.ladder import rows


def test_every_sip_has_a_row_of_its_own_below_its_flavouring():
    sips = [(1, "Plum", 1.0, 2), (1, "Mint", 0.1, 3), (2, "Plum", 2.0, 3), (2, "Mint", 0.1, 3)]
    drawn = list(rows(sips))
    assert [row["row"] for row in drawn] == list(range(6))
    assert [row.get("said", row["name"]) for row in drawn] == [
        *("Plum", "1 g/kg, too weak", "2 g/kg, just right"),
        *("Mint", "0.1 g/kg, just right", "0.1 g/kg, just right"),
    ]
    assert [row.get("share") for row in drawn] == [None, 0.5, 1.0, None, 1.0, 1.0]


def test_what_several_tasters_said_of_a_sip_stands_together():
    _, sip = rows([(1, "Plum", 1.0, 2), (1, "Plum", 1.0, 3), (1, "Plum", 1.0, 3)])
    assert sip["said"] == "1 g/kg, too weak or just right"
