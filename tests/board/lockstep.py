"""Runs the board's program under MicroPython on the simulated clock, one request a line.

Reads a line, lets simulated time pass until its answer has been written, reads the next: the same
steps as the in-process board takes, so that both can be compared to the last digit.
"""

import select
import sys

import machine
import settings
from drivers import DRIVERS, NEEDED
from lamp import PinLamp
from program import Program
from push_button import PushButton

_TICKS = 1 << 30


class Clock:
    def ticks_ms(self):
        return machine.simulated_ticks_ms()

    def ticks_add(self, ticks, delta):
        return (ticks + delta) % _TICKS

    def ticks_diff(self, end, start):
        return (end - start + _TICKS // 2) % _TICKS - _TICKS // 2


class Cable:
    def __init__(self):
        self.given = b""
        self.answered = False

    def read(self):
        octets, self.given = self.given, b""
        return octets

    def write(self, octets):
        sys.stdout.buffer.write(octets)
        self.answered = self.answered or octets.endswith(b"\n")
        return len(octets)


def main():
    pins = settings.PINS["rp2"]
    bus = machine.I2C(0, scl=machine.Pin(pins["scl"]), sda=machine.Pin(pins["sda"]), freq=100000)
    cable, clock = Cable(), Clock()
    program = Program(
        port=cable,
        bus=bus,
        clock=clock,
        device="board-1a2b3c",
        drivers=DRIVERS,
        needed=NEEDED,
        button=PushButton(machine.Pin(pins["button"]), clock),
        recover_bus=lambda: None,
        lamp=PinLamp(machine.PWM(machine.Pin(pins["lamp"]), freq=20000, duty_u16=0), 50),
    )
    heard = select.poll()
    heard.register(sys.stdin, select.POLLIN)
    while True:
        heard.poll()
        line = sys.stdin.buffer.readline()
        if not line:
            return
        cable.given, cable.answered = line, False
        while not cable.answered:
            machine.advance_ms(max(program.step(), 1))


main()
