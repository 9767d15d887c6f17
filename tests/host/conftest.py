import sys

import pytest


@pytest.fixture
def site(tmp_path, monkeypatch):
    """Folder that stands for site-packages, first on sys.path, emptied of modules afterwards."""
    folder = tmp_path / "site"
    folder.mkdir()
    monkeypatch.syspath_prepend(folder)
    yield folder
    for name in [n for n, m in sys.modules.items() if str(folder) in (getattr(m, "__file__", None) or "")]:
        del sys.modules[name]
