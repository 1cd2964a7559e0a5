"""A coat's strip as a small chart: the usual range as a band, gaps left open.  Pure."""

from __future__ import annotations

from collections.abc import Sequence

from sprayout.review.traces import Trace

WIDTH, HEIGHT = 220.0, 46.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 34.0, 4.0, 4.0, 4.0


def scale_of(trace: Trace) -> tuple[float, float]:
    """Lowest and highest value the chart shows: the trace and the usual range, with a margin."""
    known = [v for v in trace.mean if v is not None]
    ends = [v for v in (trace.usual_low, trace.usual_high) if v is not None]
    low, high = min([*known, *ends]), max([*known, *ends])
    margin = max(0.08 * (high - low), 0.02 * max(abs(low), abs(high)), 0.05)
    return low - margin, high + margin


def runs_of(mean: Sequence[float | None]) -> list[list[tuple[int, float]]]:
    """Stretches of neighbouring readings; a gap ends one."""
    runs: list[list[tuple[int, float]]] = []
    for i, value in enumerate(mean):
        if value is None:
            continue
        if runs and runs[-1][-1][0] == i - 1:
            runs[-1].append((i, value))
        else:
            runs.append([(i, value)])
    return runs


def place(
    trace: Trace, i: int, value: float, width: float = WIDTH, height: float = HEIGHT
) -> tuple[float, float]:
    """Where a reading lies in a chart of that size."""
    low, high = scale_of(trace)
    steps = max(len(trace.mean) - 1, 1)
    x = _LEFT + (width - _LEFT - _RIGHT) * i / steps
    y = _TOP + (height - _TOP - _BOTTOM) * (high - value) / (high - low)
    return x, y


def strip_svg(trace: Trace) -> str:
    """One SVG element of 220 by 46."""
    low, high = scale_of(trace)
    parts = []
    if trace.usual_low is not None and trace.usual_high is not None:
        top, bottom = place(trace, 0, trace.usual_high)[1], place(trace, 0, trace.usual_low)[1]
        parts.append(
            f'<rect class="usual" x="{_LEFT}" y="{top:.1f}" width="{WIDTH - _LEFT - _RIGHT}" '
            f'height="{max(bottom - top, 1.0):.1f}"/>'
        )
    for run in runs_of(trace.mean):
        points = [place(trace, i, value) for i, value in run]
        if len(points) == 1:
            x, y = points[0]
            parts.append(f'<circle class="read" cx="{x:.1f}" cy="{y:.1f}" r="1.3"/>')
        else:
            path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
            parts.append(f'<polyline class="line" points="{path}"/>')
    for value, y in ((high, 10.0), (low, HEIGHT - 4.0)):
        parts.append(f'<text x="{_LEFT - 3}" y="{y}" text-anchor="end">{value:.3g}</text>')
    label = f"{trace.words}, {trace.unit}"
    return (
        f'<svg class="strip" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" '
        f'aria-label="{label}">{"".join(parts)}</svg>'
    )
