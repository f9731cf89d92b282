"""Several people in the same moment: threads that start together, each with its own connection."""

import threading

from django.db import connections

PATIENCE_S = 60


def at_once(*calls):
    """What each call returned or raised, in their order."""
    ready, came = threading.Barrier(len(calls)), [None] * len(calls)

    def one(place, call):
        try:
            ready.wait(timeout=PATIENCE_S)
            came[place] = call()
        except Exception as failure:  # noqa: BLE001 - a thread's failure must reach the test
            came[place] = failure
        finally:
            connections.close_all()

    people = [threading.Thread(target=one, args=pair, daemon=True) for pair in enumerate(calls)]
    for person in people:
        person.start()
    for person in people:
        person.join(timeout=PATIENCE_S)
    assert not any(person.is_alive() for person in people), f"somebody waits after {PATIENCE_S} s"
    return came


def everybody(number, do):
    """`do(n)` for n people at once."""
    return at_once(*(lambda n=n: do(n) for n in range(number)))
