"""Answer questions about ship dates: documents of JSON in, a line of JSON out for each."""

import json
import os
import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from django.core.management.base import BaseCommand

from orders.calc.dates_json import answering, loading, manual, reading


class Command(BaseCommand):
    help = manual.text()
    requires_system_checks = ()

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Leave the list of keys as it is laid out."""
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file."""
        parser.add_argument("file", nargs="?", default="-", help="a file with the documents (standard input)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Answer document by document."""
        unreadable = False
        try:
            with _opened(options["file"]) as file:
                for number, document in _documents(file):
                    try:
                        said = answering.answered(reading.read(_text(document)))
                    except loading.Refused as wrong:
                        unreadable = unreadable or isinstance(wrong, loading.Unreadable)
                        said = {"line": number, "error": str(wrong)}
                    print(json.dumps(said), flush=True)
        except BrokenPipeError:  # whoever read has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except OSError as wrong:
            self.stderr.write(f"{options['file']}: {wrong.strerror}; a file that can be read would work.")
            sys.exit(2)
        if unreadable:
            sys.exit(1)


def _opened(name: str) -> BinaryIO:
    return os.fdopen(os.dup(sys.stdin.fileno()), "rb") if name == "-" else Path(name).open("rb")


def _documents(file: BinaryIO) -> Iterator[tuple[int, bytes]]:
    """Give each document with its line: a line each, or all of it where the first line is none by itself."""
    lines = enumerate(file, 1)
    begin = next(((number, line) for number, line in lines if line.strip()), None)
    if begin is None:
        return
    if not _is_whole(begin[1]):
        rest = list(lines)
        whole = b"".join([begin[1], *(line for _, line in rest)])
        if _is_whole(whole) or 2 * sum(_is_whole(line) for _, line in rest) <= len(rest):
            yield begin[0], whole
            return
        lines = enumerate([line for _, line in rest], begin[0] + 1)
    yield begin
    for number, line in lines:
        if line.strip():
            yield number, line


def _is_whole(document: bytes) -> bool:
    try:
        json.loads(document)
    except (ValueError, RecursionError):
        return False
    return True


def _text(document: bytes) -> str:
    try:
        return document.decode()
    except UnicodeDecodeError as wrong:
        raise loading.Unreadable("document: no UTF-8; save the file as UTF-8.") from wrong
