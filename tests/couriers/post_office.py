"""A real mail server on loopback, that keeps what it gets and refuses what it is told to refuse."""

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


class PostOffice:
    """Answers as told, and keeps the letters."""

    def __init__(self) -> None:
        self.letters: list[Message] = []
        self.envelopes: list[Envelope] = []
        self.refuse_rcpt: str | None = None
        self.refuse_data: list[str] = []
        self.url = ""

    async def handle_RCPT(  # noqa: N802 -- named by the library
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        """Take a receiver, or refuse it."""
        if self.refuse_rcpt is not None:
            return self.refuse_rcpt
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        """Take a letter, or refuse it."""
        if self.refuse_data:
            return self.refuse_data.pop(0)
        content: Any = envelope.content
        self.letters.append(message_from_bytes(content))
        self.envelopes.append(envelope)
        return "250 OK"


@contextmanager
def open_post_office() -> Iterator[PostOffice]:
    """A mail server that lasts as long as the block."""
    office = PostOffice()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    controller = Controller(office, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        office.url = f"smtp://127.0.0.1:{port}"
        yield office
    finally:
        controller.stop()
