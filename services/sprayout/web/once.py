"""One record per act: an act that is sent twice is done once and answered twice.

A screen gives each act a key and sends the same key again where no answer came: `Idempotency-Key`,
as in the IETF's draft-ietf-httpapi-idempotency-key-header-06 (February 2025).  The same key with
another form is refused with 422, as the draft asks.  Where the draft proposes 409 for a second
request that comes while the first is under way, ours waits for the first one's answer: a double
tap is no fault.

Two screens have two keys.  Each also says how many acts of this bench it had heard of
(`Acts-Seen`); an identical form from a screen that had not yet heard of the bench's last act is
that same act.  Once another act came after it, it is a new one: the bench is not as it was left.

The memory is bounded and ends with the run.  Refusals are not kept: they changed nothing.  A fault
of ours is kept under its own key: how far the act came is not known, so it is not tried again
unasked.
"""

import asyncio
import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sprayout.web.forms import Failure, fault_of_ours

KEPT_S = 600.0
MOST_ACTS = 500
#: Answers to acts are small; where some are not, the oldest give way.
MOST_BYTES = 32_000_000
FAULT = 500
_KEY = re.compile(r'"?([!#-~]{8,200})"?')

Answer = list[Message]


@dataclass(slots=True, eq=False)
class Act:
    """One act: its form, its answer once there is one, and its number among the bench's acts."""

    form: bytes
    begun_s: float
    answer: asyncio.Future[Answer | None]
    number: int | None = None
    has_failed: bool = False
    size: int = 0
    keys: list[str] = field(default_factory=list)


class ActMemory:
    """The acts under way and those of the last minutes."""

    def __init__(self, now_s: Callable[[], float], count: Callable[[], int]) -> None:
        self._now_s = now_s
        self._count = count
        self._newest = 0
        self._acts: list[Act] = []
        self._by_key: dict[str, Act] = {}

    def find(self, key: str, form: bytes, seen: int | None) -> Act | None:
        """Return the act that this request means, if it is known."""
        self._forget_old()
        known = self._by_key.get(key)
        if known is None and seen is not None:
            same = (act for act in reversed(self._acts) if act.form == form)
            known = next((act for act in same if self._is_unheard(act, seen)), None)
            if known is not None:
                self._name(known, key)
        return known

    def _is_unheard(self, act: Act, seen: int) -> bool:
        if act.number is None:
            return not act.has_failed
        return seen < act.number == self._newest

    def begin(self, key: str, form: bytes) -> Act:
        """Remember an act that is under way."""
        act = Act(form, self._now_s(), asyncio.get_running_loop().create_future())
        self._acts.append(act)
        self._name(act, key)
        return act

    def end(self, act: Act, answer: Answer | None) -> None:
        """Give the answer to all who wait; keep it where the act was done, or may have been."""
        status = 0 if answer is None else answer[0]["status"]
        if answer is None or not (status < 300 or status == FAULT):
            self._forget(act)
        elif status == FAULT:
            act.has_failed = True
        else:
            act.number = self._newest = self._count()
        act.size = _size(answer or [])
        if not act.answer.done():
            act.answer.set_result(answer)

    def _name(self, act: Act, key: str) -> None:
        act.keys.append(key)
        self._by_key[key] = act

    def _forget_old(self) -> None:
        oldest_s = self._now_s() - KEPT_S
        done = [act for act in self._acts if act.answer.done()]
        surplus = len(self._acts) - MOST_ACTS
        held = sum(act.size for act in done)
        for at, act in enumerate(done):
            too_large = held > MOST_BYTES and at < len(done) - 1
            if at < surplus or act.begun_s < oldest_s or too_large:
                held -= act.size
                self._forget(act)

    def _forget(self, act: Act) -> None:
        self._acts.remove(act)
        for key in act.keys:
            self._by_key.pop(key, None)


class Once:
    """The middleware; requests without a key pass through untouched."""

    def __init__(self, app: ASGIApp, memory: ActMemory) -> None:
        self._app = app
        self._memory = memory
        self._under_way: set[asyncio.Task[None]] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        key = _key_of(scope)
        if key is None:
            await self._app(scope, receive, send)
            return
        found = _KEY.fullmatch(key)
        body = await _whole(receive)
        if found is None:
            words = "Idempotency-Key: wanted 8 to 200 letters or digits; send a new one each act"
            await _refuse(400, words)(scope, receive, send)
        elif body is not None:
            await self._answer(found[1], body, scope, send)

    async def _answer(self, key: str, body: bytes, scope: Scope, send: Send) -> None:
        seen = Headers(scope=scope).get("acts-seen", "")
        number = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 16 else None
        form = _fingerprint(scope, body)
        answer: Answer | None = None
        while answer is None:
            act = self._memory.find(key, form, number)
            if act is None:
                act = self._begin(key, form, body, scope)
            elif act.form != form:
                words = "Idempotency-Key: this key came with another form; use a new one each act"
                await _refuse(422, words)(scope, _nothing, send)
                return
            answer = await asyncio.shield(act.answer)
        for message in answer:
            await send(message)

    def _begin(self, key: str, form: bytes, body: bytes, scope: Scope) -> Act:
        act = self._memory.begin(key, form)
        # In a task of its own: a cable that is pulled must not leave half an act.
        task = asyncio.create_task(self._do(act, body, scope))
        self._under_way.add(task)
        task.add_done_callback(self._under_way.discard)
        return act

    async def _do(self, act: Act, body: bytes, scope: Scope) -> None:
        said: Answer = []

        async def keep(message: Message) -> None:
            said.append(message)

        try:
            await self._app(scope, _given(body), keep)
        except Exception as error:
            said.clear()
            await _answered(FAULT, fault_of_ours(error))(scope, _nothing, keep)
            raise
        finally:
            self._memory.end(act, said or None)


def _key_of(scope: Scope) -> str | None:
    if scope["type"] != "http" or scope["method"] != "POST":
        return None
    return Headers(scope=scope).get("idempotency-key")


def _fingerprint(scope: Scope, body: bytes) -> bytes:
    mark = hashlib.sha256(scope["path"].encode())
    mark.update(b"?" + scope.get("query_string", b"") + b"\n" + body)
    return mark.digest()


def _size(answer: Answer) -> int:
    return sum(len(message.get("body", b"")) for message in answer)


async def _whole(receive: Receive) -> bytes | None:
    """Return the form; None where it was cut off."""
    parts = []
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return None
        parts.append(message.get("body", b""))
        if not message.get("more_body", False):
            return b"".join(parts)


def _given(body: bytes) -> Receive:
    left = [body]

    async def receive() -> Message:
        if left:
            return {"type": "http.request", "body": left.pop(), "more_body": False}
        return await _nothing()

    return receive


async def _nothing() -> Message:
    await asyncio.Event().wait()
    return {"type": "http.disconnect"}


def _refuse(status: int, words: str) -> JSONResponse:
    return _answered(status, Failure(error=words))


def _answered(status: int, failure: Failure) -> JSONResponse:
    return JSONResponse(failure.model_dump(), status_code=status)
