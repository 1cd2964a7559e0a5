"""Fills the buffer of a board with a radio while the board works, and says what heap is left."""

import gc
import sys
import time

import main
from broker import Broker
from tcp import Tcp
from telemetry import MOST_WAITING, Telemetry
from wifi import Wifi

program, console, button = main.build(main.settings.PINS["rp2"])
wifi = Wifi("workshop", "", "192.168.1.10")
broker = Broker(lambda: Tcp("127.0.0.1", 1), time, "board-1a2b3c", "sprayout/bench/board-1a2b3c")
telemetry = Telemetry(program, wifi, broker, time)
main.tidy_memory()
begun = time.ticks_ms()
pack = 0
while pack < MOST_WAITING + 20:
    wait_ms = program.step()
    if program._climate_lane.idle() and program.started:
        program.add_climate_job(telemetry._climate())
        wifi._known = (1788000000 + 5 * pack, time.ticks_ms())
        pack += 1
    time.sleep_ms(wait_ms)
gc.collect()
print(len(telemetry.buffer), telemetry.lost, gc.mem_alloc(), gc.mem_free(), file=sys.stderr)
