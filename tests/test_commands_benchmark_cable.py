"""The cable's benchmark counts what it says: frames out of noise, and readings after a replug."""

from sprayout.commands.benchmarks.cable import noise, replugs


def test_every_frame_is_found_and_none_is_made_up() -> None:
    found, false, failed = noise(50, 100_000)
    assert (found, false) == (50, 0) and failed > 50


def test_each_pull_gives_a_time_until_the_next_reading() -> None:
    back_s = replugs(2)
    assert len(back_s) == 2 and all(seconds > 0 for seconds in back_s)
