"""What the host may ask for, checked before anything is touched (JSON-RPC 2.0)."""

import json

from registers import PartFault

PARSE_ERROR = -32700
INVALID_REQUEST = -32600
UNKNOWN_METHOD = -32601
INVALID_PARAMS = -32602
PART_FAILED = -32001
BUSY = -32002

ROLES = ("colour", "climate", "part", "airflow")
_WANTED_ROLES = "of must be [colour] or a list of climate, part, airflow, each once"


class Refused(Exception):  # noqa: N818 - what happens to the request
    """A request that is not carried out: JSON-RPC code and words for the host."""

    def __init__(self, code, words):
        super().__init__(words)
        self.code = code
        self.words = words


class Request:
    """``number`` is the id to answer under; None for a notification, which gets no answer."""

    def __init__(self, number, method, params):
        self.number = number
        self.method = method
        self.params = params


def parse(text):
    """The request in a checked line.  Refused carries the id, where there is one, as ``number``."""
    try:
        message = json.loads(text.decode())
    except (ValueError, RuntimeError):  # RuntimeError: nested too deeply
        raise Refused(PARSE_ERROR, "not JSON") from None
    if not isinstance(message, dict) or message.get("jsonrpc") != "2.0":
        raise Refused(INVALID_REQUEST, "not a JSON-RPC 2.0 request")
    number = message.get("id")
    if number is not None and not is_integer(number):
        raise Refused(INVALID_REQUEST, "id must be an integer")
    return Request(number, message.get("method"), message.get("params", {}))


def is_integer(value):
    return isinstance(value, int) and not isinstance(value, bool)


def is_number(value):
    # value == value: NaN, which some JSON readers let pass, is no number.
    return (is_integer(value) or isinstance(value, float)) and value == value


def take(params, allowed):
    """``params`` as a dictionary that holds no names but the allowed ones."""
    if not isinstance(params, dict):
        raise Refused(INVALID_PARAMS, "params must be an object")
    for name in params:
        if name not in allowed:
            raise Refused(
                INVALID_PARAMS, "unknown parameter %s; known: %s" % (name[:20], ", ".join(allowed))
            )
    return params


def in_range(name, value, low, high):
    if not is_number(value) or not low <= value <= high:
        raise Refused(INVALID_PARAMS, "%s must be a number from %s to %s" % (name, low, high))
    return value


def roles_of(params):
    """The roles a ``measure`` asks for: colour alone, or some of the others, each once."""
    roles = take(params, ("of",)).get("of")
    if roles == ["colour"]:
        return roles
    if not isinstance(roles, list) or not roles:
        raise Refused(INVALID_PARAMS, _WANTED_ROLES)
    for at, role in enumerate(roles):
        if role not in ROLES[1:] or role in roles[:at]:
            raise Refused(INVALID_PARAMS, _WANTED_ROLES)
    return roles


def part_failed(failure):
    return Refused(PART_FAILED, str(failure) if isinstance(failure, PartFault) else repr(failure))
