"""What was done to a bench, and corrections of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import UnknownIdError, nearest
from pairing.model.columns import TABLES
from pairing.store import ledger
from pairing.store.cups import correct_rows

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["correct", "of_bench", "of_trial"]


def of_bench(tx: Transaction) -> pd.DataFrame:
    """Return all revisions, first to last: revision, revised_at, author, action, about, undoes."""
    import pandas as pd

    rows = [(r.revision, r.at, r.author, r.action, r.about, r.undoes) for r in ledger.revisions(tx)]
    return pd.DataFrame(rows, columns=["revision", "revised_at", "author", "action", "about", "undoes"])


def of_trial(tx: Transaction, trial_id: str) -> pd.DataFrame:
    """Return every revision of a trial's readings and steps, first to last."""
    import pandas as pd

    done = {r.revision: r for r in ledger.revisions(tx)}
    frames = []
    for name in ("readings", "steps"):
        rows = ledger.versions(tx, name, trial_id=trial_id)
        if rows.empty:
            continue
        again = rows.duplicated("row_key").to_numpy()
        state = np.where(rows["gone"] == 1, "taken back", np.where(again, "changed", "added"))
        ours = pd.DataFrame(
            {
                "revision": rows["revision"],
                "revised_at": [done[r].at for r in rows["revision"]],
                "author": [done[r].author for r in rows["revision"]],
                "action": [done[r].action for r in rows["revision"]],
                "table": name,
                "state": state,
            }
        )
        frames.append(pd.concat([ours, rows[list(TABLES[name].names)].astype(object)], axis=1))
    if not frames:
        trials = ledger.current(tx, "readings")["trial_id"].unique()
        raise UnknownIdError(f"no trial {trial_id!r}", nearest(trial_id, trials))
    columns = list(dict.fromkeys(c for f in frames for c in f.columns))
    joined = pd.concat([f.reindex(columns=columns).astype(object) for f in frames], ignore_index=True)
    joined["revision"] = joined["revision"].astype(int)
    return joined.sort_values("revision", kind="stable", ignore_index=True)


def correct(
    tx: Transaction,
    table: str,
    key: Mapping[str, Any],
    changes: Mapping[str, Any],
    expected_revision: int | None,
) -> int:
    """Correct the rows with this key as a new revision and return its number."""
    from pairing.store.loading import known_ids

    rows = ledger.current(tx, table)
    chosen = np.ones(len(rows), dtype=bool)
    for name, value in key.items():
        cells = rows[name]
        chosen &= (cells.isna() if value is None else cells == value).to_numpy(dtype=bool)
    said = ", ".join(f"{k} {v!r}" for k, v in key.items())
    if not chosen.any():
        lead = TABLES[table].key[0]
        raise UnknownIdError(f"{table} has no row with {said}", nearest(str(key.get(lead, "")), rows[lead].unique()))
    changed = correct_rows(rows[chosen], table, changes, expected_revision, known_ids(tx))
    number = ledger.begin_revision(tx, "correct", about=f"{table}: {said}")
    ledger.append(tx, table, changed, number)
    ledger.check_no_orphans(tx)
    return number
