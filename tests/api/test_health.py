"""The service says whether its database answers."""

from tests.builders import World


def test_health_answers_when_the_database_does(world: World) -> None:
    answer = world.get("/v1/health")

    assert (answer.status_code, answer.json) == (200, {"status": "ok"})
