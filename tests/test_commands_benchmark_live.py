"""The live benchmark measures something: frames go in, as many events come out, none before it."""

from sprayout.commands.benchmarks.live import measured


def test_every_frame_on_the_cable_is_an_event_on_the_stream() -> None:
    report = measured(2.0)
    assert report["frames"] >= 10 and report["events"] >= 0.8 * report["frames"]
    p50, p99, _, memory_mb = (figure["value"] for figure in report["figures"])
    assert 0 < p50 <= p99 and memory_mb > 20
