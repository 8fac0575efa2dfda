"""The web server: reads a request to its end before a thread takes it up, so that a slow tablet holds nobody else up."""

import argparse
import signal
import sys
from collections.abc import Sequence
from types import FrameType

import waitress

THREADS = 4  # few, because each keeps a connection to the database
CONNECTIONS = 1_000  # open at once; one that is half said costs some memory and no thread
SILENT_SECONDS = 60  # a connection that says and takes nothing for so long is closed
LARGEST_BODY = 24_000_000  # bytes; the pages and the API refuse with a sentence well before this


def main(words: Sequence[str]) -> None:
    """Serve until asked to stop; what has begun is finished."""
    parser = argparse.ArgumentParser(prog="deploy.web", description="Serve the pages and the API.")
    parser.add_argument("--host", required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--silent-seconds", type=int, default=SILENT_SECONDS)
    options = parser.parse_args(words)
    signal.signal(signal.SIGTERM, _stop)
    from shop.wsgi import application  # noqa: PLC0415 - takes a second, and a wrong option should not

    waitress.serve(
        application,
        host=options.host,
        port=options.port,
        threads=THREADS,
        connection_limit=CONNECTIONS,
        channel_timeout=options.silent_seconds,
        cleanup_interval=max(1, options.silent_seconds // 4),
        max_request_body_size=LARGEST_BODY,
        asyncore_use_poll=True,  # the other way ends at 1,024 open files
        clear_untrusted_proxy_headers=False,  # which proxy is believed is settled in shop.access
        log_socket_errors=False,
        ident=None,
    )


def _stop(_number: int, _frame: FrameType | None) -> None:
    sys.exit(0)


if __name__ == "__main__":
    main(sys.argv[1:])
