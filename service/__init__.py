"""Oastbook: hop lots that a brewer can trust.

The map. Each room does one kind of work; inside a room, each subject is a package, under the same name in every room.

    science/     formulas: numbers in, numbers out; no clock, no database
    reference/   published tables, each row with its source
    market/      facts (immutable records) and the rules on them; no framework
    records/     SQLAlchemy: rows stay here, facts come out
    usecases/    what people do: read, decide, write
    sheets/      PDF: facts in, bytes out
    couriers/    letters from the outbox
    files/       CSV and XLSX
    api/         JSON over HTTP: schemas and views
    web/         HTML over HTTP: problems and documentation
    cli/         the commands of `oastbook`
    app.py       builds the Flask app
    request_context.py  one request: the caller, the time, the transaction
    settings.py  the environment, read once
    errors/      every refusal
    facts.py     what a fact is made of

The subjects, each building on those before it: people, goods, growing, storage, processing, brewing, matching, trade,
planning, sheet.

A room imports only rooms below it. The order stands in pyproject.toml, and `tests/test_house.py` checks it.
"""
