"""Questions to a virtual board on a stepped clock: no cable, no thread, no waiting.

::

    talk = BoardTalk(SteadySurroundings())
    talk.ask("measure", {"of": ["climate"]})       # the result, or raises BoardRefusal
"""

from collections.abc import Iterable, Mapping

from sprayout.errors import BoardFault
from sprayout.link.frames import LineDecoder, encode_line
from sprayout.sim.faults import Fault
from sprayout.sim.stepped_clock import SteppedClock
from sprayout.sim.surroundings import Surroundings
from sprayout.sim.virtual_board import Parts, VirtualBoard

_LONGEST_S = 30.0


class BoardRefusal(BoardFault):
    """The board's JSON-RPC error."""

    def __init__(self, code: int, words: str) -> None:
        super().__init__(f"board: {words} ({code})")
        self.code = code
        self.words = words


class BoardTalk:
    """``heard`` collects the notifications as they came, ``answers`` those not taken yet by id."""

    def __init__(
        self,
        surroundings: Surroundings,
        *,
        parts: Parts | None = None,
        faults: Iterable[Fault] = (),
        seed: int = 0,
        begins_s: float = 0.0,
    ) -> None:
        self.clock = SteppedClock(begins_s)
        self.board = VirtualBoard(
            surroundings, parts=parts, faults=faults, clock=self.clock, seed=seed
        )
        self.heard: list[dict[str, object]] = []
        self.answers: dict[object, dict[str, object]] = {}
        self._decoder = LineDecoder()
        self._last_id = 0

    def ask(self, method: str, params: Mapping[str, object] | None = None) -> dict[str, object]:
        """The result of one request."""
        self._last_id += 1
        answer = self.exchange(self._last_id, method, params or {})
        if "error" in answer:
            error = answer["error"]
            assert isinstance(error, dict)
            raise BoardRefusal(error["code"], error["message"])
        result = answer["result"]
        assert isinstance(result, dict)
        return result

    def exchange(
        self, request_id: int, method: str, params: Mapping[str, object]
    ) -> dict[str, object]:
        """The whole answer to one request."""
        request = {"jsonrpc": "2.0", "id": request_id, "method": method, "params": params}
        self.send(encode_line(request))
        return self.answer_to(request_id)

    def send(self, octets: bytes) -> None:
        self.board.receive(octets)

    def answer_to(self, request_id: int | None) -> dict[str, object]:
        """Let time pass until that answer is there."""
        until_s = self.clock.now_s + _LONGEST_S
        while request_id not in self.answers:
            if self.clock.now_s > until_s:
                raise TimeoutError(f"no answer to request {request_id} in {_LONGEST_S:g} s")
            self.step()
        return self.answers.pop(request_id)

    def run(self, seconds: float) -> None:
        """Let time pass."""
        until_s = self.clock.now_s + seconds
        while self.clock.now_s < until_s:
            self.step()

    def step(self) -> None:
        """One turn of the board's loop and the time it then waits."""
        wait_ms = self.board.step()
        for message in self._decoder.receive(self.board.take_output()):
            if "method" in message:
                self.heard.append(message)
            else:
                self.answers[message.get("id")] = message
        self.clock.advance(max(wait_ms, 0.25) / 1000)
