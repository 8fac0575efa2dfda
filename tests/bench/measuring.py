"""Processor time of a running server per request, read by a client that keeps its connection."""

import http.client
import itertools
import json
import statistics
from collections.abc import Callable
from dataclasses import dataclass, field

import psutil

from tests.servers import Service

PAIRS = 9
_keys = itertools.count(1)


@dataclass
class Client:
    """One program that asks one service, over one connection, with its key."""

    service: Service
    key: str
    _line: http.client.HTTPConnection = field(init=False)

    def __post_init__(self) -> None:
        self._line = http.client.HTTPConnection("127.0.0.1", self.service.port, timeout=60)

    def get(self, path: str, status: int = 200, **headers: str) -> tuple[bytes, str]:
        """Return body and tag."""
        return self._ask("GET", path, None, status, headers)

    def post(self, path: str, body: dict, status: int = 201) -> tuple[bytes, str]:
        """Send a body under a request key that was never used."""
        headers = {"Idempotency-Key": f"bench-{next(_keys):016d}", "Content-Type": "application/json"}
        return self._ask("POST", path, json.dumps(body).encode(), status, headers)

    def _ask(self, method: str, path: str, body: bytes | None, status: int, headers: dict) -> tuple[bytes, str]:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        self._line.request(method, path, body, {"Authorization": f"Bearer {self.key}", **named})
        answer = self._line.getresponse()
        text = answer.read()
        assert answer.status == status, (path, answer.status, text[:400])
        return text, answer.headers.get("ETag", "")

    def cpu(self) -> float:
        """Return the processor seconds that the server and its workers have used."""
        main = psutil.Process(self.service.pid("web"))
        used = [process.cpu_times() for process in (main, *main.children(recursive=True))]
        return sum(times.user + times.system for times in used)


@dataclass(frozen=True)
class Measured:
    """Milliseconds of processor time per request of both sides, and the median of the pairs' ratios."""

    name: str
    left_ms: float
    right_ms: float
    ratio: float
    spread: tuple[float, float]

    def __str__(self) -> str:
        low, high = self.spread
        return (
            f"{self.name:<34} {self.left_ms:8.3f} ms {self.right_ms:8.3f} ms   {self.ratio:5.2f} ({low:.2f}-{high:.2f})"
        )


def compare(
    name: str, left: tuple[Client, Callable[[], object]], right: tuple[Client, Callable[[], object]], *, requests: int
) -> Measured:
    """Ask both sides in turns and return left's processor time over right's: 1 where both cost the same, less where right costs more."""
    for _, ask in (left, right):
        for _ in range(max(5, requests // 10)):
            ask()
    spent: list[tuple[float, float]] = []
    for number in range(PAIRS):
        sides = [left, right] if number % 2 == 0 else [right, left]
        took = {id(side): _spend(side, requests) for side in sides}
        spent.append((took[id(left)], took[id(right)]))
    ratios = [one / other for one, other in spent]
    lefts, rights = zip(*spent, strict=True)
    milli = 1_000 / requests
    return Measured(
        name,
        statistics.median(lefts) * milli,
        statistics.median(rights) * milli,
        statistics.median(ratios),
        (min(ratios), max(ratios)),
    )


def _spend(side: tuple[Client, Callable[[], object]], requests: int) -> float:
    client, ask = side
    before = client.cpu()
    for _ in range(requests):
        ask()
    return client.cpu() - before
