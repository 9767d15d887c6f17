"""Plugins for tests: written to a folder that looks like site-packages, or dropped into a bench."""

import textwrap

from pairing import host

HEAD = """
from pairing.api import Base, Command, Flavouring, Rule, View, hookimpl
PAIRING_API = (1, 0)
def rule(id, feature=lambda table: table.base_index * 0.0, **other):
    return Rule(**{"id": id, "summary": "A rule", "source": "from memory", "acts_on": "liking", "feature": feature,
                   "because": lambda recipe: "because", **other})
"""


def code(body, head=HEAD):
    return head + textwrap.dedent(body)


def install(folder, name, body, *, head=HEAD, version="1.0", package=None):
    """Write an importable module with the metadata that an installer would leave; the folder has to be on sys.path."""
    module = name.replace("-", "_") + "_lab"
    package = package or name
    (folder / f"{module}.py").write_text(code(body, head))
    info = folder / f"{package.replace('-', '_')}-{version}.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: {version}\n")
    (info / "entry_points.txt").write_text(f"[pairing.plugins]\n{name} = {module}\n")
    return module


def drop_in(bench, name, body, *, head=HEAD, trusted=True):
    """Write a plugin file into a bench's folder, and trust what is in it then."""
    folder = bench / "plugins"
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.py"
    path.write_text(code(body, head))
    if trusted:
        host.trust(bench)
    return path


GOOD_RULE = """
@hookimpl
def pairing_rules(settings):
    return [rule("good", lambda table: (table.n_flavourings > 1) * 1.0, prior_mean=0.5)]
"""

BROKEN = {
    "import-error": ("import a_package_that_is_nowhere\n", HEAD),
    "exits": ("import sys\nsys.exit('no')\n", HEAD),
    "misspelt": ("@hookimpl\ndef pairing_ruels(settings):\n    return []\n", HEAD),
    "wrong-api": (GOOD_RULE, HEAD.replace("(1, 0)", "(2, 0)")),
    "nan": ("import numpy as np\n@hookimpl\ndef pairing_rules(settings):\n"
            "    return [rule('nan', lambda table: np.full(len(table), np.nan))]\n", HEAD),
    "wrong-length": ("import numpy as np\n@hookimpl\ndef pairing_rules(settings):\n"
                     "    return [rule('short', lambda table: np.zeros(len(table) + 1))]\n", HEAD),
}  # fmt: skip
"""Six plugins that go wrong, each in its own way."""


def load_one(tmp_path, body, *, head=HEAD, **options):
    drop_in(tmp_path, "lab", body, head=head)
    loaded = host.load(tmp_path, only="lab", **options)
    (plugin,) = [p for p in loaded.plugins if p.name == "lab"]
    return loaded, plugin
