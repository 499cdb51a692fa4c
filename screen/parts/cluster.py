"""The steps of a batch on an existing Dask scheduler. In: its address and steps. Out: what the steps gave.

Each file is read by one worker, which keeps its records. Whose they are is settled here, and the engine's own shuffle
brings the records of each part together from all files. Workers open the sheets themselves and keep what the steps
leave in the work folder, so that both must stand in folders that all machines see under the same path.
"""

from __future__ import annotations

import contextlib
import itertools
import logging
import shutil
import time
import uuid
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screen.parts import workers
from screen.parts.reading import Reading, read_file
from screen.settings import SettingsError
from screen.stages.read.gathering import Start, Unit

if TYPE_CHECKING:
    from distributed import Client, Future

    from screen.parts.cut import Cut
    from screen.parts.work import Files
    from screen.settings import Settings
    from screen.stages.read.cells.files import Source

__all__ = ["Cluster", "ClusterError", "cluster"]

#: Seconds until a scheduler without an answer, or without workers, is given up.
PATIENCE = 10
#: Steps that are sent for each thread of the workers, so that none waits for its next one.
AHEAD = 2


class ClusterError(OSError):
    """A scheduler or workers that were lost while a run went on. The text says what and how to go on."""


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Cluster]:
    """The cluster behind the scheduler at ``address``. Raises SettingsError where it cannot be reached or is empty."""
    from distributed import Client
    from distributed.comm import get_address_host_port

    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # whatever matters is said in our words
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of other versions on the workers, which are looked at below
        try:
            get_address_host_port(address, strict=True)  # an address of no kind that is known
            client = Client(address, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError, TypeError, ImportError, RuntimeError, NotImplementedError) as error:
            raise SettingsError(
                f"cluster: no scheduler answers at {address}. Start one (dask scheduler), or mend the address, such as "
                "tcp://10.0.0.5:8786; without --cluster this machine does the work."
            ) from error
        with client:
            try:
                client.wait_for_workers(1, timeout=PATIENCE)
            except TimeoutError as error:
                raise SettingsError(
                    f"cluster: the scheduler at {address} has no workers. Start some (dask worker {address})."
                ) from error
            yield Cluster(client, address)


@contextlib.contextmanager
def _told(address: str) -> Iterator[None]:
    """What goes wrong on a cluster, in words."""
    from distributed import KilledWorker
    from distributed.comm import CommClosedError

    go_on = "Run the same command with --resume to go on from what is done"
    try:
        yield
    except KilledWorker as error:
        raise ClusterError(
            "cluster: one step ended several workers, mostly because it needs more memory than they have. Give the "
            f"workers more memory or fewer threads. {go_on}"
        ) from error
    except workers.OtherInstallationError as error:
        raise ClusterError(
            f"cluster: a worker that joined has {error}. Install on all machines what is installed here. {go_on}"
        ) from error
    except (CancelledError, CommClosedError, TimeoutError) as error:
        raise ClusterError(f"cluster: the scheduler at {address} was lost. {go_on}") from error


class Cluster:
    """Does the steps of a batch on the workers of a scheduler."""

    apart = True

    def __init__(self, client: Client, address: str) -> None:
        self._client, self._address = client, address
        self._units: list[Future] = []

    def look(self, sources: Sequence[Source], beside: Path) -> Sequence[Source]:
        """The sources by their full paths. Raises SettingsError for workers that differ or do not see the folders."""
        files = [replace(source, path=source.path.absolute()) for source in sources]
        folder = beside.absolute() / f".siltmark-look-{uuid.uuid4().hex}"
        folder.mkdir()
        try:
            self._look([(one.path, one.bytes, one.modified) for one in files], folder)
        finally:
            shutil.rmtree(folder, ignore_errors=True)
        return files

    def _look(self, files: Sequence[tuple[Path, int, int | None]], folder: Path) -> None:
        def look() -> dict[str, Any]:  # sent whole, so that a worker without the tool can say so
            try:
                from screen.parts.workers import look_around
            except ImportError as error:
                return {"absent": str(error)}
            return look_around(files, folder)

        here = workers.installation()
        seen: dict[str, Any] = self._client.run(look, on_error="return")
        for worker, told in seen.items():
            if isinstance(told, BaseException) or "absent" in told:
                raise SettingsError(
                    f"cluster: worker {worker} does not have this version of siltmark. Install it there with the extra "
                    'cluster: pip install "siltmark[cluster]".'
                )
            if told["installation"] != here:
                raise SettingsError(
                    f"cluster: worker {worker} has {workers.differing(told['installation'], here)}, and figures could "
                    "come out differently. Install there what is installed here, and start the workers anew."
                )
            if told["unseen"]:
                raise SettingsError(
                    f"cluster: worker {worker} does not see {told['unseen']} as it is here. Workers open the sheets "
                    "themselves: put them into a folder that all machines see under the same path."
                )
        shared = all(told["left"] for told in seen.values())
        if not (shared and _until(lambda: sum(1 for _ in folder.iterdir()) == len(seen))):
            raise SettingsError(
                f"cluster: not every worker can write to {folder.parent}, where the work of this run is kept beside "
                "the output. Name an --out in a folder that all machines see under the same path and may write to."
            )

    def opening(self, sources: Sequence[Source], settings: Settings, files: Files) -> AbstractContextManager[Files]:
        """What opens the sources on the workers."""
        return contextlib.nullcontext(files)

    def read(self, known: Reading, sources: Sequence[Source], tell: Callable[[int], None]) -> list[Unit]:
        """Every file as read, without its records, which stay on the workers."""
        shared = self._share(known)
        self._units = [self._submit(read_file, number, shared, source) for number, source in enumerate(sources)]
        light = [self._client.submit(workers.without_records, unit, pure=False) for unit in self._units]
        return self._gathered(iter(()), dict(zip(light, range(len(light)), strict=True)), tell)

    def lots(
        self, units: Sequence[Unit], starts: Sequence[Start], parts: Cut, wanted: Sequence[int]
    ) -> Callable[[int], Any]:
        """The lot of each of the ``wanted`` parts, brought together by the engine's shuffle, as a future."""
        import dask
        import dask.dataframe as dd

        if not wanted:
            self._units = []
            return lambda part: None
        packets = [
            self._client.submit(
                workers.packets_of,
                future,
                start,
                parts.of_owner[start.owner : start.owner + len(unit.owners)],
                list(wanted),
                pure=False,
            )
            for future, unit, start in zip(self._units, units, starts, strict=True)
        ]
        # few rows, and large ones: a shuffle by tasks, of which a lost worker costs only what it held
        method = dask.config.get("dataframe.shuffle.method", None) or "tasks"
        frame = dd.from_delayed(packets, meta=workers.no_packets(), verify_meta=False)
        moved = frame.set_index("part", divisions=[*range(parts.count), parts.count], shuffle_method=method)
        pieces = self._client.compute(moved.to_delayed())
        futures = {part: self._client.submit(workers.unpacked, pieces[part], pure=False) for part in wanted}
        self._units = []
        return futures.pop

    def each(
        self,
        step: Callable[..., Any],
        known: Any,
        own: Callable[[int], tuple[Any, ...]],
        parts: Sequence[int],
        tell: Callable[[int], None],
    ) -> list[Any]:
        """What ``step(part, known, *own(part))`` gives for each of the parts, in their order."""
        shared = self._share(known)
        ahead = AHEAD * max(sum(self._client.nthreads().values()), 1)
        places = iter(range(len(parts)))

        def more() -> Iterator[tuple[Future, int]]:
            for place in places:
                yield self._submit(step, parts[place], shared, *own(parts[place])), place

        waiting = more()
        return self._gathered(waiting, dict(itertools.islice(waiting, ahead)), lambda number: tell(parts[number]))

    def _share(self, known: Any) -> Future:
        """What all parts share, as a step of its own: lost with a worker, it is sent again."""
        return self._client.submit(workers.same, known, pure=False)

    def _submit(self, step: Callable[..., Any], part: int, shared: Future, *own: Any) -> Future:
        return self._client.submit(
            workers.run_step, step, workers.installation(), part, shared, *own, pure=False, key=_key(step)
        )

    def _gathered(
        self, waiting: Iterator[tuple[Future, int]], running: dict[Future, int], tell: Callable[[int], None]
    ) -> list[Any]:
        """What the steps give, by their places; each that is done makes room for one that waits."""
        from distributed import as_completed

        given: dict[int, Any] = {}
        with _told(self._address):
            done = as_completed(list(running), loop=self._client.loop)
            for future in done:
                place = running.pop(future)
                given[place] = future.result()
                tell(len(given) - 1)
                for another, at in waiting:
                    running[another] = at
                    done.add(another)
                    break
        return [given[place] for place in sorted(given)]


def _key(step: Callable[..., Any]) -> str:
    return f"{step.__name__}-{uuid.uuid4().hex}"


def _until(holds: Callable[[], bool]) -> bool:
    """Whether something comes to hold within PATIENCE seconds: shared folders may take some to show a file."""
    end = time.monotonic() + PATIENCE
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.2)
    return True
