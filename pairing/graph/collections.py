"""Familiar partners: what is used together in a collection of recipes, each a set of names.

Three views of the collection are blended on the log scale: a ridge regression of every name on all the others (which
keeps apart what goes with *this* name from what goes with its companions), naive Bayes over names present and, weakly,
absent, and the recipes most like the context. A small power of popularity is divided out, so that salt is not the
answer to everything.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

import networkx as nx
import numpy as np
from scipy import sparse

from pairing.errors import TableError

__all__ = ["CoUse", "from_collections"]

# Set on repeated random splits of a public cookbook; flat optima, so round numbers.
RIDGE_RECIPES = 1000.0  # shrinkage of the regression, as a number of recipes
BAYES_COUNT = 10.0  # smoothing of a conditional frequency, as a number of recipes
BAYES_ABSENT = 0.2  # how much a name that is absent says, beside one that is present
BAYES_SHARE, SIMILARITY_SHARE = 0.15, 0.20  # shares in the blend; the ridge has the rest
SIMILARITY_SHARPNESS = 20.0  # how fast a recipe's say falls off with its similarity to the context
POPULARITY_POWER = 0.35  # how much of log popularity is taken out of the blend
AFFINITY_COUNT = 4.0  # recipes of doubt in an affinity: one shared recipe proves little
FLOOR = 1e-4


class CoUse:
    """Co-use of names in a collection of recipes. Made by `from_collections`; asking changes nothing.

    Attributes
    ----------
    names : tuple of str
        Every name in the collection, sorted.
    n_recipes : int
        Recipes that were counted (empty ones are not).
    """

    def __init__(self, names: tuple[str, ...], recipes: list[list[int]]) -> None:
        self.names = names
        self.n_recipes = len(recipes)
        self._at = {name: i for i, name in enumerate(names)}
        lengths = np.array([len(r) for r in recipes])
        columns = np.concatenate([np.asarray(r, dtype=np.intp) for r in recipes])
        starts = np.concatenate([[0], np.cumsum(lengths)])
        self._use = sparse.csr_array((np.ones(len(columns)), columns, starts), shape=(len(recipes), len(names)))
        self._together = (self._use.T @ self._use).toarray()
        self._share = (np.diag(self._together) + 0.5) / (self.n_recipes + 1)
        self._ridge, self._ridge_start = self._fit_ridge(lengths)
        self._bayes, self._bayes_start = self._fit_bayes()
        self._rarity = np.sqrt(np.log(1 / self._share))
        self._lengths = np.sqrt(self._use @ self._rarity)

    def _fit_ridge(self, lengths: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Regress every name on all others: the inverse of one Gram matrix gives all regressions at once.

        A long recipe has more pairs; weights of one over its length let every recipe say as much.

        References
        ----------
        Steck 2019, Embarrassingly shallow autoencoders for sparse data, WWW '19, eq. 8.
        """
        weights = (1 / lengths) / np.mean(1 / lengths)
        weighted = sparse.diags_array(weights) @ self._use
        sums = weighted.sum(axis=0)
        gram = (self._use.T @ weighted).toarray()
        gram -= np.outer(sums, self._share) + np.outer(self._share, sums)
        gram += self.n_recipes * np.outer(self._share, self._share)
        spread = np.trace(gram) / len(gram) / self.n_recipes
        inverse = np.linalg.inv(gram + RIDGE_RECIPES * max(spread, FLOOR) * np.eye(len(gram)))
        slopes = -inverse / np.diag(inverse)
        np.fill_diagonal(slopes, 0.0)
        return slopes, self._share - self._share @ slopes

    def _fit_bayes(self) -> tuple[np.ndarray, np.ndarray]:
        """Log odds that a name adds by being present, and where all start with every name absent."""
        counts, share = np.diag(self._together)[:, None], self._share[None, :]
        present = (self._together + BAYES_COUNT * share) / (counts + BAYES_COUNT) / share
        missing = BAYES_COUNT * (1 - self._share[:, None])
        absent = (counts.T - self._together + missing * share) / (self.n_recipes - counts + missing) / share
        for_present, for_absent = np.log(present), BAYES_ABSENT * np.log(np.maximum(absent, 1e-3))
        np.fill_diagonal(for_present, 0.0)
        np.fill_diagonal(for_absent, 0.0)
        return for_present - for_absent, for_absent.sum(axis=0)

    def _like(self, context: list[int]) -> np.ndarray:
        """How often each name occurs in the recipes that are most like the context."""
        wanted = np.zeros(len(self.names))
        wanted[context] = self._rarity[context]
        shared = (self._use @ wanted) / (self._lengths * np.sqrt(wanted.sum()) + FLOOR)
        say = np.exp(SIMILARITY_SHARPNESS * (shared - shared.max()))
        return np.asarray(self._use.T @ (say / say.sum()))

    def _scores(self, context: list[int]) -> np.ndarray:
        log_share = np.log(self._share)
        if not context:
            return log_share
        ridge = np.log(np.maximum(self._ridge_start + self._ridge[context].sum(axis=0), FLOOR))
        bayes = self._bayes_start + self._bayes[context].sum(axis=0)
        bayes = bayes / len(context) ** 0.25 + log_share  # names in one recipe do not speak independently
        like = np.log(self._like(context) + FLOOR)
        blend = (1 - BAYES_SHARE - SIMILARITY_SHARE) * ridge + BAYES_SHARE * bayes + SIMILARITY_SHARE * like
        return np.asarray(blend - POPULARITY_POWER * log_share)

    def rank_partners(self, context: Iterable[str], n: int = 10) -> list[str]:
        """Rank the names that fit beside those of a context.

        Parameters
        ----------
        context : iterable of str
            Names already chosen. A name that the collection does not have says nothing; with none that it has, the
            ranking is by popularity.
        n : int
            How many to return.

        Returns
        -------
        list of str
            Best first; the context is left out.

        Raises
        ------
        TableError
            If `n` is below 1 or the context is one text instead of several names.

        Examples
        --------
        >>> from pairing.graph import from_collections
        >>> sets = [{"cherry", "vanilla"}] * 3 + [{"mint", "cocoa"}] * 3 + [{"cherry", "vanilla", "mint"}]
        >>> from_collections(sets).rank_partners({"cherry"}, n=1)
        ['vanilla']
        """
        if n < 1:
            raise TableError(f"n is {n}", "ask for at least 1 partner")
        known = sorted({self._at[name] for name in _names(context, "the context") if name in self._at})
        scores = self._scores(known)
        scores[known] = -np.inf
        best = np.argsort(-scores, kind="stable")[: min(n, len(scores) - len(known))]
        return [self.names[i] for i in best]

    def affinity(self, a: str, b: str) -> float:
        """Say how far two names are used together beyond chance, from -1 to 1.

        (o − e) / (o + e + 4), with o the recipes that have both and e those expected if the two were used
        independently: 0 at chance, towards 1 the more often they meet, towards −1 where they avoid each other, and
        near 0 while there is little to go by.

        Returns
        -------
        float
            0.0 also where a name is not in the collection: nothing is known of it.
        """
        i, j = self._at.get(_tidy(a)), self._at.get(_tidy(b))
        return 0.0 if i is None or j is None or i == j else float(self._affinities([i], [j])[0])

    def _affinities(self, i: Iterable[int], j: Iterable[int]) -> np.ndarray:
        i, j = np.asarray(i), np.asarray(j)
        seen, counts = self._together[i, j], np.diag(self._together)
        expected = counts[i] * counts[j] / self.n_recipes
        return np.asarray((seen - expected) / (seen + expected + AFFINITY_COUNT))

    def graph(self, min_affinity: float = 0.0) -> nx.Graph[str]:
        """Make the co-use graph: an edge for every pair used together more than chance.

        Parameters
        ----------
        min_affinity : float
            Edges at or below this affinity are left out.

        Returns
        -------
        nx.Graph
            Nodes carry ``uses``; edges ``affinity`` and ``recipes`` (how many have both).
        """
        graph: nx.Graph[str] = nx.Graph()
        graph.add_nodes_from((name, {"uses": int(self._together[i, i])}) for i, name in enumerate(self.names))
        i, j = np.nonzero(np.triu(self._together, 1))
        strength = self._affinities(i, j)
        keep = strength > min_affinity
        rows = zip(i[keep], j[keep], strength[keep], strict=True)
        graph.add_edges_from(
            (self.names[a], self.names[b], {"affinity": float(s), "recipes": int(self._together[a, b])})
            for a, b, s in rows
        )
        return graph


def from_collections(sets: Iterable[Iterable[str]]) -> CoUse:
    """Learn which names are familiar partners from a collection of recipes.

    Parameters
    ----------
    sets : iterable of iterables of str
        One set of names per recipe. Names are trimmed; a name given twice in one recipe counts once; empty recipes are
        skipped.

    Returns
    -------
    CoUse
        With ``rank_partners(context, n)``, ``affinity(a, b)`` and ``graph()``.

    Raises
    ------
    TableError
        If a recipe is one text instead of several, a name is no text, or no recipe has a name.

    Examples
    --------
    >>> familiar = from_collections([["cherry", "vanilla"], ["cherry", "vanilla", "cocoa"], ["mint", "cocoa"]])
    >>> familiar.affinity("cherry", "vanilla") > 0 > familiar.affinity("cherry", "mint")
    True
    """
    if isinstance(sets, str) or not isinstance(sets, Iterable):
        what = f"one text: {sets[:40]!r}" if isinstance(sets, str) else repr(sets)
        raise TableError(f"the collection is {what}", "hand over a list with one set of names per recipe")
    recipes = [sorted(_names(recipe, f"recipe {row}")) for row, recipe in enumerate(sets, start=1)]
    recipes = [recipe for recipe in recipes if recipe]
    if not recipes:
        raise TableError("the collection has no recipe with a name in it", "hand over at least one set of names")
    names = tuple(sorted({name for recipe in recipes for name in recipe}))
    at = {name: i for i, name in enumerate(names)}
    return CoUse(names, [[at[name] for name in recipe] for recipe in recipes])


def _tidy(name: str) -> str:
    return unicodedata.normalize("NFC", name).strip()


def _names(recipe: Iterable[str], what: str) -> set[str]:
    if isinstance(recipe, str) or not isinstance(recipe, Iterable):
        raise TableError(f"{what} is {recipe!r}", "a recipe is a set or list of names, such as {'cherry', 'vanilla'}")
    names = set()
    for name in recipe:
        if not isinstance(name, str):
            raise TableError(f"{what} has the name {name!r}", "names are text; leave out empty cells")
        names.add(_tidy(name))
    return names - {""}
