"""Oastbook: hop lots that a brewer can trust.

The plan of the house. Rooms by kind of work, in each room the same file for the same subject:

    science/     WHAT NATURE SAYS    numbers in, numbers out; no clock, no database
    reference/   WHAT THE BOOKS SAY  published tables, each row with its source
    market/      WHAT OUR RULES SAY  frozen facts, and pure decisions on them
    records/     WHAT WE REMEMBER    rows stay here, facts come out
    usecases/    WHAT PEOPLE ASK     read, decide, write
    sheets/      WHAT WE PRINT       facts in, PDF bytes out
    couriers/    WHAT WE SEND        letters out of the outbox
    files/       WHAT COMES AS FILES tables of cells, and back
    api/         THE JSON DOOR       one file per subject, schemas above, views below
    web/         THE HTML DOOR       pages that explain: problems and documentation
    cli/         THE BACK DOOR       serve, migrate, deliver, lots, sheets, token create
    app.py       builds the house: settings, sessions, clock, doors
    visit.py     one request: one transaction, one reading of the clock
    background.py  the work no caller waits for: allocations, one at a time
    settings.py  what the environment tells us, read once
    errors/      every refusal the house can give
    facts.py     what a fact is made of

A room imports downstairs only:

    cli > app > (api | web) > visit > background > (usecases | sheets | couriers | files)
        > records > market > (science | reference) > (errors | settings) > facts
"""
