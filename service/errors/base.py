"""What every refusal is."""


class Refusal(Exception):  # noqa: N818 -- a refusal is the trade's word, not an error of the program
    """The house says no."""

    code: str = "refusal"
    title: str = "The service refuses"

    def __init__(self, detail: str, **facts: object) -> None:
        super().__init__(detail)
        self.detail = detail
        self.facts = facts
