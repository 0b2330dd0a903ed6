"""Worker processes: equal keys go to one of them, a dead one is replaced, errors come through."""

from __future__ import annotations

import os
import signal
import time

import pytest

from chargewright.errors import ConflictError, InputError
from chargewright.web.lanes import LONG, QUICK, Lanes
from chargewright.web.pool import HereDesk, Pool, WorkerError


class Echo:
    """Says where it is, sleeps, fails."""

    def place(self) -> int:
        return os.getpid()

    def sleep(self, seconds: float) -> int:
        time.sleep(seconds)
        return os.getpid()

    def refuse(self) -> None:
        raise InputError("no such thing")

    def conflict(self) -> None:
        raise ConflictError("two sides", yours=1, here=2)

    def fail(self) -> None:
        raise ZeroDivisionError("inside")


def test_a_pool_keeps_keys_apart_and_survives_a_death() -> None:
    pool = Pool(Echo, 2)
    try:
        places = {key: pool.ask("place", key=key).result(60) for key in "abcdefgh"}
        assert len(set(places.values())) == 2
        assert os.getpid() not in places.values()
        assert all(pool.ask("place", key=key).result(60) == places[key] for key in places)
        waiting = pool.ask("sleep", 0.5, key="a")
        os.kill(places["a"], signal.SIGKILL)
        assert waiting.result(60) not in (places["a"], os.getpid())
        assert pool.ask("place", key="a").result(60) != places["a"]
        with pytest.raises(InputError, match="no such thing"):
            pool.ask("refuse").result(60)
        with pytest.raises(ConflictError) as conflict:
            pool.ask("conflict").result(60)
        assert (conflict.value.yours, conflict.value.here) == (1, 2)
        with pytest.raises(WorkerError, match="ZeroDivisionError"):
            pool.ask("fail").result(60)
    finally:
        pool.close()


def test_quick_work_does_not_wait_for_long() -> None:
    desk = HereDesk(Echo)
    try:
        long = desk.ask("sleep", 0.6, lane=LONG)
        assert desk.ask("place", lane=QUICK).result(10) == os.getpid()
        assert not long.done()
    finally:
        desk.close()


def test_the_lowest_rank_goes_first() -> None:
    lanes, order = Lanes(), list[int]()
    try:
        first = lanes.submit(lambda: time.sleep(0.2))
        rest = [lanes.submit(lambda r=rank: order.append(r), rank=rank) for rank in (9, 0, 5)]
        for future in (first, *rest):
            future.result(10)
    finally:
        lanes.close()
    assert order == [0, 5, 9]
