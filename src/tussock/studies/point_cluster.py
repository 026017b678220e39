"""Points on a Dask cluster (extra ``cluster``): batches as tasks, whatever is lost with a worker is run again.

A task costs the scheduler about 2 ms, so points go in batches. The scene is sent once to every worker. Dask moves code
and data as pickles without asking who sends them: use it on a network that you trust.
"""

from __future__ import annotations

import importlib
import logging
import socket
from collections.abc import Sequence
from concurrent.futures import CancelledError
from typing import Any

import tussock
from tussock.errors import InputError, SolverError
from tussock.studies.point_runs import Batches
from tussock.studies.points import Point, Scene, evaluate_all

ANSWER_WITHIN = 5.0  # a scheduler that says nothing for so long is not there [s]
WORKERS_WITHIN = 10.0  # nor are its workers [s]
ATTEMPTS = 5  # of a batch whose workers die
_STARTS = 3  # of Dask's thread, which has 10 s each time
_LARGEST_BATCH = 32
_AHEAD = 3  # batches that a worker's thread has waiting
_EXTRA = "running on a cluster needs the library dask.distributed; install it with: pip install 'tussock[cluster]'"


def batched(points: Sequence[Point], threads: int) -> list[tuple[Point, ...]]:
    """Cut points into batches: about eight for each thread, so that none waits long at the end, 32 points at most."""
    size = max(1, min(_LARGEST_BATCH, len(points) // (8 * threads)))
    return [tuple(points[i : i + size]) for i in range(0, len(points), size)]


def on_cluster(scene: Scene, points: Sequence[Point], address: str) -> Batches:
    """Yield outcomes as a cluster's workers finish them.

    Raises
    ------
    InputError
        If dask.distributed is not installed, no scheduler answers, it has no workers, or they run another Tussock.
    SolverError
        If a batch is lost with its worker again and again.
    """
    dask = _library()
    lost = (dask.KilledWorker, CancelledError)
    client = _client(dask, address)
    try:
        threads = _threads(client, address)
        ahead = batched(points, threads)
        ahead.reverse()
        shared = client.scatter(scene, broadcast=True, hash=False)
        tried: dict[tuple[Point, ...], int] = {}
        running: dict[Any, tuple[Point, ...]] = {}
        queue = dask.as_completed([], loop=client.loop)

        def start(batch: tuple[Point, ...]) -> None:
            future = client.submit(evaluate_all, shared, batch, pure=False)
            running[future] = batch
            queue.add(future)

        for _ in range(min(len(ahead), _AHEAD * threads)):
            start(ahead.pop())
        for future in queue:
            batch = running.pop(future)
            try:
                outcomes = future.result()
            except lost as error:
                # its worker died, or every copy of the scene did: send it again
                tried[batch] = tried.get(batch, 0) + 1
                if tried[batch] >= ATTEMPTS:
                    first, last = batch[0].number, batch[-1].number
                    raise SolverError(
                        f"points {first} to {last} were lost with their worker {ATTEMPTS} times: {error}"
                    ) from None
                shared = client.scatter(scene, broadcast=True, hash=False)
                start(batch)
                continue
            if ahead:
                start(ahead.pop())
            yield outcomes
        if ahead or running:
            raise ConnectionError("the cluster has forgotten what it was asked")
    except OSError as error:
        why = " ".join(str(error).split())
        raise SolverError(
            f"the scheduler at {address} went away; points finished before are kept where a file was named ({why})"
        ) from None
    finally:
        client.close(timeout=2)


def _library() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise InputError(_EXTRA) from None


def _client(dask: Any, address: str) -> Any:
    log = logging.getLogger("distributed")
    level = log.level
    log.setLevel(logging.CRITICAL)  # an address that nobody answers is said once, in our words
    try:
        _knock(address)
        for left in reversed(range(_STARTS)):
            try:
                return dask.Client(address, timeout=ANSWER_WITHIN, set_as_default=False, heartbeat_interval=2000)
            except AssertionError:
                # Dask asserts that its own thread runs within 10 s: no fault of the address, the machine is busy
                if not left:
                    raise SolverError(
                        f"this machine is too busy to speak with the scheduler at {address}: Dask's thread did not "
                        f"start in {_STARTS} times 10 s; stop what else runs here"
                    ) from None
    except (OSError, TimeoutError, ValueError) as error:
        why = " ".join(str(error).split()) or type(error).__name__
        raise InputError(
            f"no scheduler answers at {address} within {ANSWER_WITHIN:g} s; write the address that it shows when it "
            f"starts, such as tcp://127.0.0.1:8786 ({why})"
        ) from None
    finally:
        log.setLevel(level)


def _knock(address: str) -> None:
    """Raise OSError or ValueError at once where no port of this address listens, before any thread is started."""
    where = importlib.import_module("distributed.comm.addressing")
    scheme, place = where.parse_address(address)
    if scheme in {"tcp", "tls"}:
        socket.create_connection(where.parse_host_port(place), timeout=ANSWER_WITHIN).close()


def _threads(client: Any, address: str) -> int:
    """Return how many threads the workers have; refuse workers that are missing or run other code."""
    try:
        client.wait_for_workers(1, timeout=WORKERS_WITHIN)
        versions = client.run(_version)
    except TimeoutError:
        raise InputError(f"the scheduler at {address} has no workers; start some: dask worker {address}") from None
    except ImportError as error:
        raise InputError(f"the workers of {address} cannot run points: {error}; install tussock there") from None
    other = {worker: v for worker, v in versions.items() if v != tussock.__version__}
    if other:
        worker, version = next(iter(other.items()))
        raise InputError(
            f"worker {worker} runs Tussock {version}, this is {tussock.__version__}; figures would not be the same"
        )
    return max(1, int(sum(client.nthreads().values())))


def _version() -> str:
    return tussock.__version__
