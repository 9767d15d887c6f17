"""What the page on other kitchens shows: the prior that is used, and what would leave for a pool."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.store.rights import OWNER
from pairing_dashboard import parts, people, session
from pairing_dashboard.wording import count, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned.prior import Prior

__all__ = ["show"]

SHOWN = 8
_RESPONSES = {"liking": "liking", "dose": "needed dose"}


def show(bench: Bench) -> None:
    """Show what is adopted or offer to adopt; then what would leave."""
    names = ["From others", "To others"] if people.who()[1] == OWNER else ["From others"]
    taken, *given = st.tabs(names)
    with taken:
        if (prior := bench.adopted) is None:
            _offer(bench)
        else:
            _in_use(bench, prior)
    for tab in given:
        with tab:
            _give(bench)


def _in_use(bench: Bench, prior: Prior) -> None:
    share = session.model(bench).pool_share
    if share is not None:
        mean, sd = share
        said = f"Your own cups say: what they expect counts {number(mean, 2)} times here (± {number(sd, 1)})."
        parts.ask(said)
    _about(bench, prior)
    if st.button("Drop it: use your own cups alone", icon=":material/close:", disabled=bench.read_only):
        parts.attempt(bench.adopt, None)
        st.rerun()


def _offer(bench: Bench) -> None:
    from pairing.learned.prior import Prior

    st.write(
        "This bench uses its own cups alone. A prior holds what the logs of many kitchens have in common: means and "
        "spreads, no reading and no program. Your own cups take over as they come."
    )
    file = st.file_uploader("A prior", type=["npz"], key="prior")
    if file is None:
        return
    try:
        prior = Prior.from_bytes(file.getvalue(), file.name)
    except PairingError as error:
        parts.problem(error)
        return
    _about(bench, prior)
    if st.button("Adopt it", type="primary", icon=":material/check:", disabled=bench.read_only):
        parts.attempt(bench.adopt, prior)
        st.rerun()


def _about(bench: Bench, prior: Prior) -> None:
    """Say what a prior is, and what of it is on the shelf."""
    facts = prior.facts
    since = f"{facts['since'][:7]} to {facts['until'][:7]}" if facts.get("since") else "not told"
    known = prior.known_on(bench.shelf(), bench.public_ids)
    parts.facts(
        {
            "Kitchens": str(facts["kitchens"]),
            "Cups": str(facts["cups"]),
            "Cups from": since,
            "Licence": facts["licence"] or "not told",
            "Of your bases": f"{len(known['bases'])} known",
            "Of your flavourings": f"{len(known['flavourings'])} known",
        }
    )
    rows = [
        (_RESPONSES.get(one.response, one.response), one.block, one.keys, one.kitchens, one.withheld)
        for one in parts.rows(prior.about)
    ]
    with st.expander("What it knows"):
        caption = (
            f"Withheld is what fewer than {facts['min_kitchens']} kitchens stand behind, or what one of them holds "
            f"more than {facts['most_of_one']:.0%} of."
        )
        parts.table(rows, ("Of", "Effects", "Known>", "Kitchens behind each>", "Withheld>"), caption)


def _give(bench: Bench) -> None:
    """Show exactly what would leave, then give it."""
    st.write(
        "What leaves: public ids, doses as multiples of the label, words of strength and likings, with numbers for "
        "cups, tasters, sessions and bottles, and the month. Names, notes, authors, photos and prices never do."
    )
    folder = st.text_input("Folder of the pool", key="pool-folder", max_chars=500).strip()
    kitchen = st.text_input(
        "A name for this kitchen that tells nobody who it is", key="pool-kitchen", placeholder="boathouse", max_chars=60
    ).strip()
    if not folder or not kitchen:
        return
    try:
        public = _public(bench.suggest_public_ids(folder))
        leaves = bench.contribute(folder, kitchen=kitchen, public_ids=public, write=False)
    except PairingError as error:
        parts.problem(error)
    else:
        _leaving(leaves)
        if st.button("Give it", type="primary", icon=":material/upload:", disabled=bench.read_only):
            parts.attempt(_given, bench, folder, kitchen, public)
            st.rerun()
    if st.button("Take back what this kitchen gave", icon=":material/undo:"):
        parts.attempt(_withdrawn, bench, folder, kitchen)
        st.rerun()


def _public(suggested: Any) -> dict[str, str | None]:
    """Let the public ids be seen and changed; an empty one keeps its cups at home."""
    st.subheader("What others call it", anchor=False)
    st.caption("An empty public id keeps every cup with it at home.")
    names = ["own_id", "name", "public_id", "why"]
    table = suggested[names].assign(public_id=suggested["public_id"].where(suggested["public_id"] != "", None))
    columns = {
        "own_id": st.column_config.TextColumn("Yours", disabled=True),
        "name": st.column_config.TextColumn("Name", disabled=True),
        "public_id": st.column_config.TextColumn("Public id", max_chars=60),
        "why": st.column_config.TextColumn("Because", disabled=True),
    }
    edited = st.data_editor(table, column_config=columns, hide_index=True, width="stretch", key="pool-ids")
    ids = edited["public_id"].astype(object).where(edited["public_id"].notna(), None)
    return dict(
        zip(edited["own_id"], (str(one).strip() or None if one is not None else None for one in ids), strict=True)
    )


def _leaving(leaves: Any) -> None:
    facts = leaves.attrs
    parts.ask(f"{count(facts['cups'], 'cup')} would leave, {facts['kept_home']} stay at home.")
    for own, n in facts["because"].items():
        st.caption(md(f"{count(n, 'cup')} with {own} stay at home."))
    names = [name for name in leaves.columns if leaves[name].notna().any()]
    rows = leaves[names].head(SHOWN).astype(object)
    rows = rows.where(rows.notna(), "").to_numpy().tolist()
    parts.table(rows, names, f"The first of {len(leaves)} rows, exactly as they would be written")
    if facts["comparisons"]:
        compared = [list(one.values()) for one in facts["comparisons"]]
        parts.table(compared, list(facts["comparisons"][0]), "And of blind comparisons")


def _given(bench: Bench, folder: str, kitchen: str, public: dict[str, str | None]) -> None:
    leaves = bench.contribute(folder, kitchen=kitchen, public_ids=public)
    parts.remember(
        f"{count(leaves.attrs['cups'], 'cup')} are in {folder} as {kitchen}, in place of what it gave before."
    )


def _withdrawn(bench: Bench, folder: str, kitchen: str) -> None:
    files = bench.withdraw(folder, kitchen=kitchen)
    parts.remember(f"{kitchen} is taken out of {folder}: {count(files, 'file')}.")
