"""Documents of as many pages as they need."""

from service.sheets.pages import Column, PagesLines, PartLines, render_pages
from tests.sheets.made import printed_text, read


def document(rows: int) -> PagesLines:
    """A document of one table."""
    table = PartLines(
        heading="Rows",
        columns=(Column("number", 1), Column("square", 1, "right")),
        rows=tuple((f"n{n}", f"s{n * n}") for n in range(rows)),
    )
    return PagesLines(
        kind="Kind",
        title="Title",
        subject="Subject",
        author="Author",
        language="en",
        status="",
        headline="Headline",
        under_headline="",
        parts=(table,),
        foot=("foot",),
        code="CODE",
    )


def test_a_table_goes_on_under_its_names_on_the_next_page() -> None:
    file = render_pages(document(120))
    pages, text = read(file).pages, printed_text(file)

    assert len(pages) == 3
    assert all("number" in page.extract_text() for page in pages)
    assert [n for n in range(120) if f"n{n}s{n * n}" not in text] == []


def test_a_short_document_takes_one_page() -> None:
    assert len(read(render_pages(document(1))).pages) == 1
