"""The scaled clock of the demo."""

from sprayout.clock import ScaledClock, SystemClock


def test_the_scaled_clock_starts_where_it_is_told_and_runs_forward() -> None:
    clock = ScaledClock(1_000_000, 1_000.0)
    first, second = clock.now_ms(), clock.now_ms()
    assert 1_000_000 <= first <= second
    assert clock.real_s(10.0) == 0.01


def test_it_never_jumps_when_its_speed_changes() -> None:
    clock = ScaledClock(0, 500.0)
    before = clock.monotonic_ms()
    with clock.slowed_to(10.0):
        within = clock.monotonic_ms()
        assert clock.speed == 10.0
    assert clock.speed == 500.0
    assert before <= within <= clock.monotonic_ms()


def test_it_is_not_sped_up_by_being_slowed_to_more() -> None:
    clock = ScaledClock(0, 5.0)
    with clock.slowed_to(10.0):
        assert clock.speed == 5.0


def test_the_machines_clock_runs_in_real_seconds() -> None:
    clock = SystemClock()
    assert clock.real_s(3.0) == 3.0 and clock.monotonic_ms() <= clock.monotonic_ms()
