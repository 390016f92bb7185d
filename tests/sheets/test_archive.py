"""Many files as one ZIP, without holding what was handed on."""

import io
import tracemalloc
import zipfile
from collections.abc import Iterator

from service.sheets.archive import stream_archive


def files(count: int, size: int) -> Iterator[tuple[str, bytes]]:
    """So many files, made one at a time."""
    for n in range(count):
        yield f"{n:04d}.pdf", bytes([n % 256]) * size


def test_the_pieces_are_a_whole_archive() -> None:
    opened = zipfile.ZipFile(io.BytesIO(b"".join(stream_archive(files(5, 1000)))))

    assert opened.testzip() is None
    assert {name: opened.read(name) for name in opened.namelist()} == dict(files(5, 1000))


def test_an_archive_of_nothing_opens() -> None:
    assert zipfile.ZipFile(io.BytesIO(b"".join(stream_archive([])))).namelist() == []


def test_what_was_handed_on_is_not_held() -> None:
    tracemalloc.start()
    try:
        total = sum(len(piece) for piece in stream_archive(files(200, 100_000)))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert total > 20_000_000
    assert peak < 1_500_000
