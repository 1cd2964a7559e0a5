"""A virtual board: the board's real program in this process, simulated chips under it.

``VirtualBoard`` is single-threaded and has no clock of its own: bytes in, ``step``, bytes out.
``sprayout.sim.pty_cable`` puts it on a pty for pyserial.
"""

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from sprayout.errors import BadInput
from sprayout.sim import board_program
from sprayout.sim.chips.as7341 import AS7341
from sprayout.sim.chips.bus import Chip, I2cBus
from sprayout.sim.chips.button import ButtonPin
from sprayout.sim.chips.cable_noise import NoisyLine
from sprayout.sim.chips.led import Led, LedPwm
from sprayout.sim.chips.mlx90614 import MLX90614
from sprayout.sim.chips.sdp810 import SDP810
from sprayout.sim.chips.sht31 import SHT31
from sprayout.sim.chips.tcs34725 import TCS34725
from sprayout.sim.faults import Fault
from sprayout.sim.surroundings import Surroundings

_TICKS = 1 << 30  # MicroPython's tick counters wrap here
_PENDING = 4096  # what a null modem holds that nobody reads


@dataclass(frozen=True, slots=True)
class Parts:
    """The chips fitted to a board, by role; None where there is none."""

    colour: str | None = "as7341"
    climate: str | None = "sht31"
    part: str | None = "mlx90614"
    airflow: str | None = "sdp810"

    def __post_init__(self) -> None:
        for role, known in _KNOWN.items():
            chip = getattr(self, role)
            if chip is not None and chip not in known:
                raise BadInput(f"part {role}: got {chip!r}, known: {', '.join(known)} or none")


_KNOWN = {
    "colour": ("as7341", "tcs34725"),
    "climate": ("sht31",),
    "part": ("mlx90614",),
    "airflow": ("sdp810",),
}


@dataclass(slots=True)
class BoardTicks:
    """MicroPython's tick functions on the simulated clock, wrapping as on a board."""

    now: Callable[[], float]

    def ticks_ms(self) -> int:
        return int(self.now() * 1000) % _TICKS

    @staticmethod
    def ticks_add(ticks: int, delta: int) -> int:
        return (ticks + delta) % _TICKS

    @staticmethod
    def ticks_diff(end: int, start: int) -> int:
        return (end - start + _TICKS // 2) % _TICKS - _TICKS // 2


class Port(Protocol):
    """The board's end of a cable; neither call waits."""

    def read(self) -> bytes:
        """What arrived, perhaps nothing."""
        ...

    def write(self, octets: bytes) -> int:
        """How many bytes the cable took."""
        ...


class NullModem:
    """The board's end of the cable: what was sent to it, what it sent and nobody took yet."""

    def __init__(self) -> None:
        self.to_board = bytearray()
        self.from_board = bytearray()

    def read(self) -> bytes:
        octets = bytes(self.to_board[:256])
        del self.to_board[:256]
        return octets

    def write(self, octets: bytes) -> int:
        taken = octets[: max(0, _PENDING - len(self.from_board))]
        self.from_board += taken
        return len(taken)


@dataclass(slots=True)
class NoisyPort:
    """A port behind a stretch of noisy cable."""

    port: Port
    noise: NoisyLine

    def read(self) -> bytes:
        return self.noise.pass_on(self.port.read())

    def write(self, octets: bytes) -> int:
        return self.port.write(self.noise.pass_on(octets))


class BenchHardware:
    """Bus, LED, button and chips of one board, as its program finds them behind the pins."""

    def __init__(
        self,
        surroundings: Surroundings,
        parts: Parts,
        faults: Iterable[Fault],
        now: Callable[[], float],
        seed: int,
    ) -> None:
        faults = tuple(faults)
        self.led = Led(now, faults)
        self.chips = _chips(surroundings, parts, faults, now, seed, self.led)
        self.bus = I2cBus(self.chips.values(), now, faults)
        self.button = ButtonPin(surroundings, now, seed, faults)
        self.lamp = LedPwm(self.led)

    def power_on(self) -> None:
        """What a replugged cable does to the chips."""
        self.led.set_ma(0)
        for chip in self.chips.values():
            chip.power_on()


def _chips(
    surroundings: Surroundings,
    parts: Parts,
    faults: tuple[Fault, ...],
    now: Callable[[], float],
    seed: int,
    led: Led,
) -> dict[str, Chip]:
    fitted: list[Chip] = []
    if parts.colour == "as7341":
        fitted.append(AS7341(surroundings, led, now, seed, faults))
    if parts.colour == "tcs34725":
        fitted.append(TCS34725(surroundings, led, now, seed, faults))
    if parts.climate:
        fitted.append(SHT31(surroundings, now, seed, faults))
    if parts.part:
        fitted.append(MLX90614(surroundings, now, seed, faults))
    if parts.airflow:
        fitted.append(SDP810(surroundings, now, seed, faults))
    return {chip.name: chip for chip in fitted}


class VirtualBoard:
    """``clock`` gives simulated seconds; ``speed`` is simulated seconds per real one and only
    says how long to sleep between steps.  ``seed`` fixes the chips' noise and tolerances.
    """

    def __init__(
        self,
        surroundings: Surroundings,
        *,
        parts: Parts | None = None,
        device: str = "board-1a2b3c",
        faults: Iterable[Fault] = (),
        clock: Callable[[], float] = time.monotonic,
        speed: float = 1.0,
        seed: int = 0,
    ) -> None:
        if not speed > 0:
            raise BadInput(f"virtual board: speed is {speed}, it must be above 0")
        self.device = device
        self.speed = speed
        self._clock = clock
        faults = tuple(faults)
        self.hardware = BenchHardware(surroundings, parts or Parts(), faults, clock, seed)
        self._noise = NoisyLine(clock, seed, faults)
        self.restart()

    def restart(self, port: Port | None = None) -> None:
        """Power off and on: chips lose their registers, the program starts anew.

        It speaks to ``port``, else to the null modem of ``receive`` and ``take_output``.
        """
        self._modem = NullModem()
        self.hardware.power_on()
        modules = board_program.load()
        self.program = modules["program"].Program(
            port=NoisyPort(port or self._modem, self._noise),
            bus=self.hardware.bus,
            clock=BoardTicks(self._clock),
            device=self.device,
            drivers=modules["drivers"].DRIVERS,
            needed=modules["drivers"].NEEDED,
            button=modules["push_button"].PushButton(self.hardware.button, BoardTicks(self._clock)),
            recover_bus=self.hardware.bus.clock_out,
            lamp=modules["lamp"].PinLamp(self.hardware.lamp, self.hardware.lamp.full_ma),
        )

    def receive(self, octets: bytes) -> None:
        """Bytes from the host."""
        self._modem.to_board += octets

    def step(self) -> int:
        """Let the program do what is due; simulated milliseconds until it should run again."""
        wait_ms: int = self.program.step()
        return 0 if self._modem.to_board else wait_ms

    def take_output(self) -> bytes:
        """Bytes for the host."""
        octets = bytes(self._modem.from_board)
        self._modem.from_board.clear()
        return octets
