"""A world to test in: parties with tokens, and lots made the way a grower makes them."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.facts import replace
from service.records.people import parties
from service.records.session import Records
from service.usecases.people.access import make_token
from tests.factories import NOW, PartyFactory

LOT: dict[str, Any] = {
    "cultivar": "Willamette",
    "harvested_on": "2026-08-29",
    "form": "whole_cone",
    "packing": "barrier_vacuum",
    "stored_at_c": -2.0,
    "mass_kg": 120.5,
    "price_per_kg": 24.0,
    "currency": "CAD",
}
REPORT: dict[str, Any] = {
    "laboratory": "Quarry Lane Laboratory",
    "drawn_by": "grower",
    "sampled_on": "2026-09-03",
    "analysed_on": "2026-09-08",
    "packages_cored": 3,
    "basis": "as_is",
    "moisture_percent": 9.1,
    "alpha_percent": 5.4,
    "beta_percent": 3.9,
    "hop_storage_index": 0.27,
    "oil_ml_per_100g": 1.2,
    "methods": {
        "alpha_beta": "asbc_hops_14",
        "hop_storage_index": "asbc_hops_12",
        "moisture": "asbc_hops_4",
        "oil": "asbc_hops_13",
    },
}


@dataclass
class World:
    """Parties with tokens in one set of records, and a client that speaks for them."""

    records: Records
    client: FlaskClient
    tokens: dict[str, str] = field(default_factory=dict)

    def at(self, moment: datetime) -> None:
        """Set the clock of the app to a moment."""
        app = self.client.application
        app.extensions["oastbook"] = replace(app.extensions["oastbook"], clock=lambda: moment)

    def grower(self, code: str = "ALDER", **told: Any) -> str:
        """Welcome a grower; gives its code."""
        return self._party("grower", code, told)

    def brewery(self, code: str = "FINCH", **told: Any) -> str:
        """Welcome a brewery; gives its code."""
        return self._party("brewery", code, told)

    def _party(self, kind: str, code: str, told: dict[str, Any]) -> str:
        party = PartyFactory(kind=kind, code=code, **told)
        self.records.write(lambda session: parties.add(session, party))
        self.tokens[code] = self._token(kind, code)
        return code

    def _token(self, role: str, code: str | None) -> str:
        return self.records.write(lambda session: make_token(session, role=role, party_code=code, now=NOW))[1]

    def bearing(self, who: str | None) -> dict[str, str]:
        """The header of a party's token; `specialist` for the specialist's, None for nobody's."""
        if who is None:
            return {}
        if who == "specialist" and who not in self.tokens:
            self.tokens[who] = self._token("specialist", None)
        return {"Authorization": f"Bearer {self.tokens[who]}"}

    def get(self, path: str, *, who: str | None = None, **query: Any) -> TestResponse:
        """Read."""
        return self.client.get(path, query_string=query or None, headers=self.bearing(who))

    def post(
        self, path: str, body: Any = None, *, who: str | None = None, headers: dict[str, str] | None = None
    ) -> TestResponse:
        """Make something."""
        return self.client.post(path, json=body or {}, headers={**self.bearing(who), **(headers or {})})

    def patch(self, path: str, body: Any, *, who: str | None = None, etag: str | None = "*") -> TestResponse:
        """Change something; by default whatever version it is."""
        condition = {"If-Match": etag} if etag else {}
        return self.client.patch(path, json=body, headers={**self.bearing(who), **condition})

    def delete(self, path: str, *, who: str | None = None, etag: str | None = "*") -> TestResponse:
        """Take something away."""
        condition = {"If-Match": etag} if etag else {}
        return self.client.delete(path, headers={**self.bearing(who), **condition})

    def draft(self, who: str = "ALDER", **told: Any) -> str:
        """Draft a lot; gives its code."""
        answer = self.post("/v1/lots", {**LOT, **told}, who=who)
        assert answer.status_code == 201, answer.text
        return str(answer.json["code"])

    def report(self, lot_code: str, who: str = "ALDER", **told: Any) -> str:
        """File a report; gives its code."""
        answer = self.post(f"/v1/lots/{lot_code}/lab-reports", {**REPORT, **told}, who=who)
        assert answer.status_code == 201, answer.text
        return str(answer.json["code"])

    def listed(self, who: str = "ALDER", *, report: dict[str, Any] | None = None, **told: Any) -> str:
        """Draft, analyse and list a lot; gives its code."""
        code = self.draft(who, **told)
        self.report(code, who, **(report or {}))
        answer = self.post(f"/v1/lots/{code}/listing", {}, who=who)
        assert answer.status_code == 201, answer.text
        return code
