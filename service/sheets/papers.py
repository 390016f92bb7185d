"""The sizes that sheets and labels are printed in; without the library that draws them, which is slow to load."""

from service.errors import OutOfRange
from service.facts import Fact


class Paper(Fact, frozen=True):
    """A size of paper with its margins, in points."""

    name: str
    width: float
    height: float
    side: float = 45.0
    top: float = 34.0
    bottom: float = 30.0

    @property
    def inner(self) -> float:
        """The width between the margins."""
        return self.width - 2 * self.side


# 210 x 297 mm (ISO 216), and 8.5 x 11 inches.
PAPERS = {"a4": Paper("a4", 595.2756, 841.8898), "letter": Paper("letter", 612.0, 792.0)}


def paper_named(name: str) -> Paper:
    """Give a paper by its name.

    Raises:
        OutOfRange: there is no paper of that name.

    >>> paper_named("letter").width
    612.0

    """
    if name not in PAPERS:
        raise OutOfRange(f"paper must be one of {', '.join(PAPERS)}", name="paper", known=list(PAPERS))
    return PAPERS[name]


MM = 72 / 25.4
LABEL_SIZES = {
    "100x62mm": Paper("100x62mm", 100 * MM, 62 * MM, side=9.0, top=8.0, bottom=8.0),
    "100x150mm": Paper("100x150mm", 100 * MM, 150 * MM, side=12.0, top=12.0, bottom=12.0),
    "4x6in": Paper("4x6in", 288.0, 432.0, side=12.0, top=12.0, bottom=12.0),
}


def size_named(name: str) -> Paper:
    """Give a size of label by its name.

    Raises:
        OutOfRange: there is none of that name.

    """
    if name not in LABEL_SIZES:
        raise OutOfRange(
            f"size must be one of {', '.join(LABEL_SIZES)}", name="size", known=list(LABEL_SIZES)
        )
    return LABEL_SIZES[name]
