"""How a name is compared: case, accents, punctuation and spaces do not count."""

import re
import unicodedata

_GERMAN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
_STROKES = str.maketrans({"ł": "l", "ø": "o", "đ": "d"})


def fold(name: str) -> str:
    """Fold a name to the letters and digits that count.

    >>> fold("Žatecký poloraný červeňák"), fold("Mt. Hood"), fold("Brewer's Gold")
    ('zateckypoloranycervenak', 'mounthood', 'brewersgold')

    """
    # Taking a letter apart can give a capital, and lowering a capital can give a letter to take apart.
    apart = unicodedata.normalize("NFKD", name.casefold())
    plain = unicodedata.normalize("NFKD", apart.casefold()).translate(_STROKES)
    letters = "".join(sign for sign in plain if not unicodedata.combining(sign))
    words = re.findall(r"[^\W_]+", re.sub(r"['’`]", "", letters))
    return "".join("mount" if word == "mt" else word for word in words)


def folds(name: str) -> tuple[str, ...]:
    """Give every folding under which a name may be written: ü as u, and as ue.

    >>> folds("Mittelfrüh")
    ('mittelfruh', 'mittelfrueh')
    >>> folds("Saazer")
    ('saazer',)

    """
    composed = unicodedata.normalize("NFC", name).casefold()
    return tuple(dict.fromkeys((fold(composed), fold(composed.translate(_GERMAN)))))
