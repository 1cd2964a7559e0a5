"""Starts the board: the only file that knows ``machine``.

Hold the push button while plugging in, and the program stays out of the way: the cable is then
MicroPython's own prompt, for installing.
"""

import gc
import select
import sys
import time

import machine
import micropython
import settings
from drivers import DRIVERS, NEEDED
from lamp import PinLamp
from program import Program
from push_button import PushButton

_WATCHDOG_MS = 8000
_READ_AT_ONCE = 128


class Console:
    """The USB cable (standard input and output) as a port that never waits."""

    def __init__(self):
        self._input = sys.stdin.buffer
        self._output = sys.stdout.buffer
        self._heard = select.poll()
        self._heard.register(sys.stdin, select.POLLIN)
        self._room = select.poll()
        self._room.register(sys.stdout, select.POLLOUT)
        self._tells_room = False  # some kinds of board do not

    def read(self):
        octets = bytearray()
        while len(octets) < _READ_AT_ONCE and self._heard.poll(0):
            octet = self._input.read(1)
            if not octet:
                raise SystemExit  # the other end of a simulated cable is gone
            octets += octet
        return octets

    def write(self, octets):
        if self._room.poll(0):
            self._tells_room = True
        elif self._tells_room:
            return 0
        return self._output.write(octets) or 0

    def wait(self, ms):
        self._heard.poll(ms)


class Bus:
    """Makes the I2C bus and frees it when a chip holds the data line low."""

    def __init__(self, number, scl, sda, hz):
        self._number, self._scl, self._sda, self._hz = number, scl, sda, hz
        self.i2c = self._open()

    def _open(self):
        scl, sda = machine.Pin(self._scl), machine.Pin(self._sda)
        return machine.I2C(self._number, scl=scl, sda=sda, freq=self._hz)

    def recover(self):
        """Nine clock pulses; the peripheral, which exists once, is then set up again."""
        if machine.Pin(self._sda, machine.Pin.IN, machine.Pin.PULL_UP).value():
            self._open()
            return
        scl = machine.Pin(self._scl, machine.Pin.OPEN_DRAIN, value=1)
        for level in (0, 1) * 9:
            scl.value(level)
            time.sleep_us(5)
        self._open()


def build(pins):
    """The program on the pins of this kind of board."""
    bus = Bus(pins["i2c"], pins["scl"], pins["sda"], settings.BUS_HZ)
    button = machine.Pin(pins["button"], machine.Pin.IN, machine.Pin.PULL_UP)
    pwm = machine.PWM(machine.Pin(pins["lamp"]), freq=20000, duty_u16=0)
    console = Console()
    name = "board-" + "".join("%02x" % octet for octet in machine.unique_id()[-3:])
    program = Program(
        port=console,
        bus=bus.i2c,
        clock=time,
        device=settings.NAME or name,
        drivers=DRIVERS,
        needed=NEEDED,
        button=PushButton(button, time),
        recover_bus=bus.recover,
        lamp=PinLamp(pwm, settings.LAMP_FULL_MA),
    )
    if settings.WIFI_NAME:
        try:
            program.telemetry = join(program)
        except ImportError as failure:  # a board without a radio
            program.trouble(failure)
    return program, console, button


def join(program):
    """The way to the broker; its modules are loaded only where there is a radio."""
    from broker import Broker
    from tcp import Tcp
    from telemetry import Telemetry
    from wifi import Wifi

    topic = "sprayout/%s/%s" % (settings.BENCH, program.device)
    broker = Broker(
        lambda: Tcp(settings.BROKER, settings.BROKER_PORT),
        time,
        program.device,
        topic,
        settings.BROKER_USER,
        settings.BROKER_PASSWORD,
    )
    wifi = Wifi(settings.WIFI_NAME, settings.WIFI_PASSWORD, settings.TIME_HOST)
    return Telemetry(program, wifi, broker, time)


def tidy_memory():
    """Collect well before the heap is full: what stays would else lie scattered among garbage."""
    gc.collect()
    gc.threshold(gc.mem_free() // 8)


def run():
    program, console, button = build(settings.PINS.get(sys.platform, settings.PINS["rp2"]))
    if not button.value():
        return
    micropython.kbd_intr(-1)  # a 0x03 on the cable is data, not Ctrl-C
    watchdog = machine.WDT(timeout=_WATCHDOG_MS)
    tidy_memory()
    while True:
        watchdog.feed()
        try:
            console.wait(program.step())
        except Exception as failure:
            gc.collect()
            program.trouble(failure)


if __name__ == "__main__":
    run()
