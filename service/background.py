"""Work that no caller waits for: allocations, one at a time over all processes that serve the same records.

The turn lies in the records. A process takes it when it starts to serve, when an allocation is asked for, and when
somebody looks at one that waits or whose worker fell silent. It says every few seconds that it lives; a process that
dies loses its turn, and another one plans from the same region anew.
"""

import logging
import threading
import time
import uuid

from service.clock import Clock
from service.errors import Refusal
from service.market.planning.allocation_planning import make_plan
from service.records.planning import allocations
from service.records.session import Records
from service.usecases.planning.allocations import read_region

log = logging.getLogger(__name__)
BEATS_EVERY_S = 2.0
FIRST_LOOK_AFTER_S = 1.0


class Background:
    """At most one thread of this process, started when there is something to do."""

    def __init__(self, records: Records, clock: Clock) -> None:
        self._records, self._clock = records, clock
        self._lock = threading.Lock()
        self._busy = self._again = False

    def look_soon(self) -> None:
        """Look for work a moment after the process began to serve, and when one that died before it has been silent."""
        for seconds in (FIRST_LOOK_AFTER_S, FIRST_LOOK_AFTER_S + allocations.SILENT_FOR.total_seconds()):
            timer = threading.Timer(seconds, self.wake)
            timer.daemon = True
            timer.start()

    def wake(self) -> None:
        """See whether there is something to take up; gives back at once."""
        with self._lock:
            if self._busy:
                self._again = True
                return
            self._busy = True
        # Daemon: a process that is told to end does not wait for a plan; another one takes it up.
        threading.Thread(target=self._work, name="allocations", daemon=True).start()

    def _work(self) -> None:
        while True:
            try:
                while work_once(self._records, clock=self._clock):
                    pass
            except Exception:
                log.exception("allocations cannot be worked on")
            with self._lock:
                if not self._again:
                    self._busy = False
                    return
                self._again = False


def work_once(records: Records, *, clock: Clock) -> bool:
    """Work on the next allocation to its end; False when there is none, or another process has its turn."""
    # A look that writes nothing comes first, so that nobody queues for it.
    if not records.read(lambda session: allocations.is_waiting(session, now=clock())):
        return False
    runner = uuid.uuid4().hex
    turn = records.write(lambda session: allocations.take_up(session, runner=runner, now=clock()))
    if turn is None:
        return False
    with _Heart(records, turn, clock) as heart:
        try:
            region = records.read(lambda session: allocations.region_of(session, turn))
            if region is None:
                read = records.read(lambda session: read_region(session, turn.order, now=clock()))
                records.write(lambda session: allocations.keep_region(session, turn, read))
                region = read
            plan = make_plan(region, turn.order, clock=time.monotonic, tell=heart.tell)
        except Exception as problem:
            log.exception("allocation %s failed", turn.code)
            words = problem.detail if isinstance(problem, Refusal) else "the plan could not be made"
            told = f"{words}; the service's log says more"
            records.write(lambda session: allocations.fail(session, turn, problem=told, now=clock()))
        else:
            kept = records.write(lambda session: allocations.finish(session, turn, plan, now=clock()))
            if not kept:
                log.warning("allocation %s was taken up by another process meanwhile", turn.code)
    return True


class _Heart:
    """Says every few seconds that the worker lives, and how far it is."""

    def __init__(self, records: Records, turn: allocations.Turn, clock: Clock) -> None:
        self._records, self._turn, self._clock = records, turn, clock
        self._words = allocations.READING
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, name="allocations-heart", daemon=True)

    def tell(self, words: str) -> None:
        """Hear how far the plan is."""
        self._words = words

    def __enter__(self) -> "_Heart":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        while not self._over.wait(BEATS_EVERY_S):
            try:
                self._records.write(
                    lambda session: allocations.beat(
                        session, self._turn, now=self._clock(), progress=self._words
                    )
                )
            except Exception:
                # A missed beat is no lost turn; the next may come through.
                log.exception("allocation %s could not say that it is worked on", self._turn.code)
