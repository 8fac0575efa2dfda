"""Secrets that are shown once and kept only as their SHA-256.

A plain hash is enough for a secret of 160 or more random bits: there is nothing to guess. Passwords go through Argon2.
"""

import hashlib
import hmac
import secrets


def make(bits: int = 256) -> str:
    """Return a new random secret that can stand in an address or a cookie."""
    return secrets.token_urlsafe(bits // 8)


def digest(secret: str) -> str:
    """Return what is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def same(secret: str, kept: str) -> bool:
    """Return whether a secret belongs to a kept digest, in a time that does not tell how much of it fits."""
    return hmac.compare_digest(digest(secret), kept)
