"""Keeps secrets out of the log: the secret of a feed's address and the text of a key, wherever a line repeats them."""

import logging
import re

_SECRETS = re.compile(r"(?P<kept>/feed/[^/\s.]{1,40}\.|\bbkn_.{4})[A-Za-z0-9_%.~-]+")


class NoSecrets(logging.Filter):
    """Cuts secrets out of every line; what is left still tells which link or key it was."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Clean the line and let it pass."""
        said = record.getMessage()
        clean = _SECRETS.sub(lambda found: found["kept"] + "…", said)
        if clean != said:
            record.msg, record.args = clean, ()
        if record.exc_info and not record.exc_text:
            record.exc_text = logging.Formatter().formatException(record.exc_info)
        if record.exc_text:
            record.exc_text = _SECRETS.sub(lambda found: found["kept"] + "…", record.exc_text)
        return True
