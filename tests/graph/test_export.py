"""Files that other programs read back."""

import csv
import io
import json
import math

import networkx as nx
import pytest
from invented_graph import Invented

from pairing.errors import StoreError
from pairing.graph.build import difference, graph
from pairing.graph.export import FORMATS, as_text, save


@pytest.fixture
def made():
    ids = ["plum; dried", 'fig,"x"', "mint new", "<sage>"]
    model = Invented(ids, {(ids[0], ids[1]): 1.25}, {(ids[0], ids[1]): 3}, dict.fromkeys(ids, 1))
    made = graph(model, bases=True)
    made.nodes["<sage>"]["family"] = None
    made.edges[ids[0], ids[1]]["bases"] = ("oat; warm", 'wh"ey')
    return made


def test_graphml_comes_back(made, tmp_path):
    back = nx.read_graphml(save(made, tmp_path / "g.graphml"))
    assert set(back) == set(made)
    edge = back.edges["plum; dried", 'fig,"x"']
    assert edge["synergy"] == 1.25
    assert edge["tested"] is True
    assert json.loads(edge["bases"]) == ["oat; warm", 'wh"ey']
    assert "family" not in back.nodes["<sage>"]


def test_gexf_comes_back(made, tmp_path):
    back = nx.read_gexf(save(made, tmp_path / "g.gexf"))
    assert set(back) == set(made)
    assert back.edges["plum; dried", 'fig,"x"']["trials"] == 3


def test_json_comes_back_with_lists_and_unknowns(made, tmp_path):
    made.edges["plum; dried", "<sage>"]["sd"] = math.nan
    text = save(made, tmp_path / "g.json").read_text(encoding="utf-8")
    back = nx.node_link_graph(json.loads(text), edges="links")
    assert back.edges["plum; dried", 'fig,"x"']["bases"] == ["oat; warm", 'wh"ey']
    assert back.nodes["<sage>"]["family"] is None
    assert back.edges["plum; dried", "<sage>"]["sd"] is None


def test_csv_comes_back_row_by_row(made):
    rows = list(csv.DictReader(io.StringIO(as_text(made, "csv"))))
    assert len(rows) == made.number_of_edges()
    for row in rows:
        facts = made.edges[row["flavouring_a"], row["flavouring_b"]]
        if facts["kind"] == "pair":
            assert float(row["synergy"]) == facts["synergy"]
            assert json.loads(row["bases"]) == list(facts["bases"])
            assert row["affinity"] == ""


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_takes_graphs_and_differences(made, name, tmp_path):
    assert save(made, tmp_path / f"g.{name.upper()}").stat().st_size > 100
    assert as_text(difference(Invented("abc"), "oat", "whey"), name)


def test_signs_that_xml_cannot_hold_are_replaced(tmp_path):
    made = graph(Invented(["bell", "b"]))
    made.nodes["bell"]["name"] = "bell\x07"
    assert nx.read_graphml(save(made, tmp_path / "g.graphml")).nodes["bell"]["name"] == "bell\ufffd"


def test_what_cannot_be_written_is_refused(made, tmp_path):
    with pytest.raises(StoreError) as refused:
        save(made, tmp_path / "g.docx")
    assert "graphml" in refused.value.hint
    with pytest.raises(StoreError, match="no folder"):
        save(made, tmp_path / "nowhere" / "g.csv")
