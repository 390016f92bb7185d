"""Many sheets as one ZIP file, written piece by piece: what was handed on is not held."""

import io
import zipfile
from collections.abc import Iterable, Iterator

# ZIP keeps a date for each file; one for all, so that the same sheets give the same bytes.
MADE_AT = (1980, 1, 1, 0, 0, 0)


class _Tray(io.RawIOBase):
    """What was written since it was last emptied; nobody can go back in it."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[bytes] = []

    def writable(self) -> bool:
        """A tray is written to."""
        return True

    def write(self, piece: object) -> int:
        """Lay a piece on it."""
        data = bytes(piece)  # type: ignore[call-overload]  # anything that holds bytes
        self.pieces.append(data)
        return len(data)

    def emptied(self) -> bytes:
        """Take what lies on it."""
        taken = b"".join(self.pieces)
        self.pieces.clear()
        return taken


def stream_archive(files: Iterable[tuple[str, bytes]]) -> Iterator[bytes]:
    """Give a ZIP file in pieces, one for each file as it comes and one at the end; PDF files are stored as they are.

    >>> zipfile.ZipFile(io.BytesIO(b"".join(stream_archive([("a.pdf", b"x")])))).namelist()
    ['a.pdf']

    """
    tray = _Tray()
    with zipfile.ZipFile(tray, "w", zipfile.ZIP_STORED) as archive:
        for name, file in files:
            archive.writestr(zipfile.ZipInfo(name, MADE_AT), file)
            yield tray.emptied()
    yield tray.emptied()
