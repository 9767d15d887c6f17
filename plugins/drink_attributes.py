"""What a drink is commonly judged by beside how strong and how liked it is: a handful of words, each on the same scale.

``pairing log … --attributes 'sweetness:4;body:3'`` then knows them, and refuses what is misspelt.
"""

from __future__ import annotations

from collections.abc import Iterator

from pairing.api import Attribute, hookimpl

PAIRING_API = (1, 1)
SOURCE = "common practice (no source)"

WORDS = {  # name: question, what 1 and 5 stand for
    "overall": ("How strong is the flavour as a whole?", "much too weak", "much too strong"),
    "sweetness": ("How sweet is it?", "not nearly sweet enough", "much too sweet"),
    "sourness": ("How sour is it?", "not nearly sour enough", "much too sour"),
    "bitterness": ("How bitter is it?", "not nearly bitter enough", "much too bitter"),
    "saltiness": ("How salty is it?", "not nearly salty enough", "much too salty"),
    "creaminess": ("How creamy is it?", "not nearly creamy enough", "much too creamy"),
    "body": ("How thick is it in the mouth?", "much too thin", "much too thick"),
    "aftertaste": ("How long does it stay?", "much too short", "much too long"),
}


@hookimpl
def pairing_attributes() -> Iterator[Attribute]:
    """Yield each word."""
    for name, (question, low, high) in WORDS.items():
        yield Attribute(name=name, question=question, source=SOURCE, low=low, high=high)
