"""The messages as JSON-RPC 2.0 objects, both ways, for host and virtual board alike.

Formatting never fails on a value of :mod:`sprayout.link.messages`; parsing raises
:class:`~sprayout.errors.BadInput` with the field that is wrong.  Unknown fields are passed over,
so that a newer board may say more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sprayout.errors import BadInput
from sprayout.link.fields import Fields
from sprayout.link.messages import (
    AIRFLOW,
    CLIMATE,
    COLOUR,
    METHODS,
    PART,
    QUANTITIES,
    Answer,
    Button,
    Check,
    Chip,
    ClimatePack,
    ColourPack,
    Configure,
    ConfigureAnswer,
    FailureMessage,
    Fault,
    Hello,
    HelloAnswer,
    Measure,
    Message,
    Notification,
    NotificationMessage,
    Pack,
    Request,
    RequestMessage,
    ResultMessage,
    SelfTest,
    SelfTestAnswer,
    Stream,
    StreamAnswer,
)
from sprayout.link.senml import format_pack, parse_pack

Json = dict[str, object]


def request_json(request_id: int, request: Request) -> Json:
    """A request as it goes to the board."""
    return _envelope(id=request_id, method=METHODS[type(request)], params=to_json(request))


def result_json(request_id: int, answer: Answer) -> Json:
    """An answer as it comes from the board."""
    return _envelope(id=request_id, result=to_json(answer))


def failure_json(request_id: int | None, code: int, words: str) -> Json:
    """A JSON-RPC error object."""
    return _envelope(id=request_id, error={"code": code, "message": words})


def notification_json(notification: Notification) -> Json:
    """What the board says by itself."""
    method = {Button: "button", Fault: "fault"}.get(type(notification), "reading")
    return _envelope(method=method, params=to_json(notification))


def parse_message(message: Mapping[str, object]) -> Message:
    """Any of the four kinds of JSON-RPC message."""
    if message.get("jsonrpc") != "2.0":
        raise BadInput(f'message: "jsonrpc" is {message.get("jsonrpc")!r}, wanted "2.0"')
    fields = Fields(message, "message")
    if "method" in message:
        return _parse_call(fields)
    if "error" in message:
        error = fields.nested("error")
        request_id = None if message.get("id") is None else fields.integer("id")
        return FailureMessage(request_id, error.integer("code"), error.text("message"))
    if "result" in message:
        return ResultMessage(fields.integer("id"), message["result"])
    raise BadInput("message: none of method, result and error; it says nothing")


def _parse_call(fields: Fields) -> Message:
    method, params = fields.text("method"), fields.given.get("params", {})
    if "id" in fields.given:
        return RequestMessage(fields.integer("id"), parse_request(method, params))
    return NotificationMessage(parse_notification(method, params))


def parse_request(method: str, params: object) -> Request:
    """The request of that method; :class:`BadInput` for an unknown one or wrong params."""
    if method not in _REQUESTS:
        raise BadInput(f"method {method!r}: unknown, wanted one of {', '.join(_REQUESTS)}")
    return _REQUESTS[method](Fields(params, method))


def parse_answer(request: Request, result: object) -> Answer:
    """The answer that belongs to ``request``."""
    return _ANSWERS[type(request)](Fields(result, f"answer to {METHODS[type(request)]}"))


def parse_notification(method: str, params: object) -> Notification:
    """What the board said by itself."""
    if method not in _NOTIFICATIONS:
        raise BadInput(f"method {method!r}: unknown, wanted one of {', '.join(_NOTIFICATIONS)}")
    return _NOTIFICATIONS[method](Fields(params, method))


def to_json(value: Request | Answer | Notification) -> Json:
    """The params or the result that says ``value``; what is None is left out."""
    match value:
        case ColourPack() | ClimatePack():
            return _pack_json(value)
        case HelloAnswer():
            return _plain(value) | {"chips": [_plain(chip) for chip in value.chips]}
        case SelfTestAnswer():
            return {"passed": value.passed, "checks": [_plain(check) for check in value.checks]}
        case _:
            return _plain(value)


def _pack_json(pack: Pack) -> Json:
    written = _plain(pack)
    del written["records"]
    return written | {"senml": format_pack(pack.records)}


def _plain(value: object) -> Json:
    pairs = ((name, getattr(value, name)) for name in type(value).__slots__)  # type: ignore[attr-defined]
    return {name: _bare(given) for name, given in pairs if given is not None}


def _bare(value: object) -> object:
    if isinstance(value, tuple):
        return [_bare(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _envelope(**fields: object) -> Json:
    return {"jsonrpc": "2.0", **fields}


def _configure(params: Fields) -> Configure:
    gain = params.given.get("gain")
    return Configure(
        gain="auto" if gain == "auto" else params.positive_or_none("gain"),
        integration_ms=params.positive_or_none("integration_ms"),
        led_ma=params.positive_or_none("led_ma"),
    )


def _measure(params: Fields) -> Measure:
    of = params.texts("of")
    unknown = [quantity for quantity in of if quantity not in QUANTITIES]
    if not of or unknown or (COLOUR in of and len(of) > 1):
        wanted = f"colour alone, or any of {CLIMATE}, {PART}, {AIRFLOW}"
        raise BadInput(f'measure: "of" is {list(of)}, wanted {wanted}')
    return Measure(of)


def _hello_answer(result: Fields) -> HelloAnswer:
    return HelloAnswer(
        protocol=result.integer("protocol"),
        firmware=result.text("firmware"),
        device=result.text("device"),
        sensor=result.text("sensor"),
        channels=result.texts("channels"),
        chips=tuple(
            Chip(chip.text("role"), chip.text("chip"), chip.integer("address"), _identity(chip))
            for chip in result.nested_each("chips")
        ),
        uptime_ms=result.integer("uptime_ms"),
    )


def _identity(chip: Fields) -> str:
    return chip.text("identity") if chip.given.get("identity") is not None else ""


def _configured(result: Fields) -> ConfigureAnswer:
    return ConfigureAnswer(
        gain=result.positive("gain"),
        integration_ms=result.positive("integration_ms"),
        full_scale=result.positive("full_scale"),
        led_ma=result.number("led_ma"),
    )


def _pack(params: Fields) -> Pack:
    sequence, records = params.integer("sequence"), parse_pack(params.given.get("senml"))
    if "gain" not in params.given:
        return ClimatePack(sequence, records)
    return ColourPack(
        sequence=sequence,
        light=params.text("light"),
        gain=params.positive("gain"),
        integration_ms=params.positive("integration_ms"),
        full_scale=params.positive("full_scale"),
        saturated=params.texts("saturated"),
        ambient=params.numbers("ambient"),
        records=records,
    )


def _self_tested(result: Fields) -> SelfTestAnswer:
    checks = tuple(
        Check(check.text("name"), check.truth("passed"), check.text("words"))
        for check in result.nested_each("checks")
    )
    return SelfTestAnswer(result.truth("passed"), checks)


_REQUESTS: dict[str, Callable[[Fields], Request]] = {
    "hello": lambda params: Hello(params.integer("protocol")),
    "configure": _configure,
    "measure": _measure,
    "stream": lambda params: Stream(params.natural("colour_ms"), params.natural("climate_ms")),
    "self_test": lambda params: SelfTest(),
}

_ANSWERS: dict[type[Request], Callable[[Fields], Answer]] = {
    Hello: _hello_answer,
    Configure: _configured,
    Measure: _pack,
    Stream: lambda result: StreamAnswer(result.natural("colour_ms"), result.natural("climate_ms")),
    SelfTest: _self_tested,
}

_NOTIFICATIONS: dict[str, Callable[[Fields], Notification]] = {
    "reading": _pack,
    "button": lambda params: Button(params.natural("sequence"), params.natural("count")),
    "fault": lambda params: Fault(
        params.natural("sequence"),
        params.text("part"),
        params.text("words"),
        params.natural("count"),
    ),
}
