"""Runs the board as ``main.py`` does and, when the cable ends, says how much heap it lived on.

Live objects are counted after a collection at every twentieth step, and once more in the middle of
whatever the step left behind: the highest of both is printed on standard error.
"""

import gc
import sys

import main

program, console, button = main.build(main.settings.PINS["rp2"])
main.tidy_memory()
idle = live = gc.mem_alloc()
step = 0
try:
    while True:
        console.wait(program.step())
        step += 1
        if step % 20 == 0:
            gc.collect()
            live = max(live, gc.mem_alloc())
except (SystemExit, OSError):
    print(idle, live, gc.mem_alloc() + gc.mem_free(), file=sys.stderr)
