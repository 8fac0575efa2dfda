"""What the edge of the API itself refuses, before any service is asked."""

from shop.shared.errors import Refusal

PROBLEM_ADDRESS = "/api/v1/problems/"


class Unauthenticated(Refusal):
    """A key is needed."""

    code = "unauthenticated"
    status = 401


class NotAllowed(Refusal):
    """The key may not do this."""

    code = "not_allowed"
    status = 403


class HttpsOnly(Refusal):
    """The shop answers over https only."""

    code = "https_only"
    status = 403


class NoSuchPage(Refusal):
    """There is nothing at this address."""

    code = "not_found"
    status = 404


class WrongMethod(Refusal):
    """The address does not answer this method."""

    code = "method_not_allowed"
    status = 405


class NotAcceptable(Refusal):
    """The answer cannot be given in the form asked for."""

    code = "not_acceptable"
    status = 406


class BadParameters(Refusal):
    """A query parameter cannot be used."""

    code = "bad_parameters"
    status = 400


class BadHeader(Refusal):
    """A request header is missing or cannot be used."""

    code = "bad_header"
    status = 400


class VersionNeeded(Refusal):
    """The version that was read must be named."""

    code = "version_needed"
    status = 428


class BadRequest(Refusal):
    """A value in the request cannot be looked up."""

    code = "bad_request"
    status = 400


class Conflict(Refusal):
    """The book already holds something that stands against this."""

    code = "conflict"
    status = 409


class Busy(Refusal):
    """The shop's database is busy."""

    code = "busy"
    status = 503


class Failure(Refusal):
    """The service failed."""

    code = "failure"
    status = 500
