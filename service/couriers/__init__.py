"""WHAT WE SEND: letters out of the outbox, each to an address that was checked."""
