"""Letters by SMTP, with the standard library."""

import smtplib
import ssl
from email.headerregistry import Address
from email.message import EmailMessage
from typing import Self
from urllib.parse import unquote, urlsplit

from service.facts import Fact
from service.market.trade.notices import Letter

TIMEOUT_S = 20
# Answers of class 5 are for good: the address is refused, and would be refused again.
FOR_GOOD = range(500, 600)


class Outcome(Fact, frozen=True):
    """How a letter went: no problem, or which, and whether another try is no use."""

    problem: str | None = None
    for_good: bool = False


class Postbox:
    """A connection to a mail server: `smtp://` in the clear, `smtp+starttls://`, or `smtps://`.

    Used as a context: the connection is opened with the first letter and closed at the end.
    """

    def __init__(self, url: str, *, sender: str) -> None:
        self._parts = urlsplit(url)
        self._sender = sender
        self._server: smtplib.SMTP | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._hang_up()

    def send(self, letter: Letter) -> Outcome:
        """Send one letter; nothing is raised, whatever the server or the network does."""
        try:
            message = compose(letter, sender=self._sender)
        except (ValueError, IndexError) as problem:
            return Outcome(f"the letter cannot be written: {problem}", for_good=True)
        try:
            self._connected().send_message(message)
        except smtplib.SMTPRecipientsRefused as refused:
            code, words = next(iter(refused.recipients.values()))
            return Outcome(f"{code} {_text(words)}", for_good=code in FOR_GOOD)
        except smtplib.SMTPResponseException as refused:
            self._hang_up()
            return Outcome(f"{refused.smtp_code} {_text(refused.smtp_error)}")
        except (OSError, smtplib.SMTPException) as problem:
            self._hang_up()
            return Outcome(f"{type(problem).__name__}: {problem}"[:300])
        return Outcome()

    def _connected(self) -> smtplib.SMTP:
        if self._server is not None:
            return self._server
        host, scheme = self._parts.hostname or "", self._parts.scheme
        if scheme == "smtps":
            context = ssl.create_default_context()
            server: smtplib.SMTP = smtplib.SMTP_SSL(
                host, self._parts.port or 465, timeout=TIMEOUT_S, context=context
            )
        else:
            server = smtplib.SMTP(host, self._parts.port or 25, timeout=TIMEOUT_S)
        self._server = server
        if scheme == "smtp+starttls":
            server.starttls(context=ssl.create_default_context())
        if self._parts.username:
            server.login(unquote(self._parts.username), unquote(self._parts.password or ""))
        return server

    def _hang_up(self) -> None:
        server, self._server = self._server, None
        if server is None:
            return
        try:
            server.quit()
        except (OSError, smtplib.SMTPException):
            server.close()


def compose(letter: Letter, *, sender: str) -> EmailMessage:
    """Write a letter as a message; Message-ID names the notice and Date its writing, however often it is sent.

    Raises:
        ValueError: an address or a header that no mail may carry, such as one with a line break.

    """
    message = EmailMessage()
    message["From"] = Address(display_name="Oastbook", addr_spec=sender)
    message["To"] = Address(addr_spec=letter.to)
    message["Date"] = letter.written_at
    message["Subject"] = letter.subject
    message["Message-ID"] = letter.message_id
    message["Auto-Submitted"] = "auto-generated"
    message["Oastbook-Notice"] = str(letter.notice_number)
    message.set_content(letter.text)
    return message


def _text(words: bytes | str) -> str:
    return words.decode("utf-8", "replace") if isinstance(words, bytes) else words
