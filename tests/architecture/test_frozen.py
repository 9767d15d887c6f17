"""Value objects are frozen: what somebody holds is not changed by somebody else."""

import ast

from house import HOUSE

AT_WORK = {"Candidate", "Clock", "Gathering", "LikingFit", "Problems", "_Bottle", "_Memory", "_Merged", "_Names"}
AT_WORK |= {"Stages", "_OneLog", "_Process", "_Work"}
"""What is filled in while one function or one process works on it."""


def thawed(source):
    """Yield the data classes of a source text that can be changed once they are made."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ClassDef):
            kinds = [ast.unparse(one) for one in node.decorator_list]
            if any(kind.startswith("dataclass") and "frozen=True" not in kind for kind in kinds):
                yield node.name


def test_a_class_that_can_be_changed_is_seen():
    assert list(thawed("@dataclass\nclass A: ...\n@dataclass(frozen=False)\nclass B: ...")) == ["A", "B"]
    assert not list(thawed("@dataclass(frozen=True, eq=False)\nclass A: ...\nclass B: ..."))


def test_only_what_is_at_work_can_be_changed():
    ours = {name: path for name, path in HOUSE.items() if not name.startswith("pairing_demo_data")}
    found = {(name, one) for name, path in ours.items() for one in thawed(path.read_text("utf-8"))}
    assert {one for _, one in found} == AT_WORK, sorted(found)
