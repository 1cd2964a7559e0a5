"""Runs the review over invented histories and counts how often it names what was behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sprayout.commands.benchmarks.review_histories import UNRECORDED, History, Truth, make_history
from sprayout.journal import records as r
from sprayout.review.batch_facts import CalibrationSeen, SwatchSeen, cups_of
from sprayout.review.defects import defect_named
from sprayout.review.facts import facts_of
from sprayout.review.gathering import BenchRecord
from sprayout.review.judge import judge
from sprayout.review.judgement import Judgement
from sprayout.review.quantities import CoatFacts


@dataclass(frozen=True, slots=True)
class Run:
    """One judged finding beside its truth."""

    truth: Truth
    judgement: Judgement

    @property
    def place(self) -> int | None:
        """Place of the true cause among those ranked, 1 the first; None where it is not there."""
        keys = [ranked.cause.key for ranked in self.judgement.ranked]
        return keys.index(self.truth.cause) + 1 if self.truth.cause in keys else None

    @property
    def is_recorded(self) -> bool:
        """Whether the record of this coat holds what the true cause is seen by."""
        return self.truth.cause != UNRECORDED and not any(
            u.cause.key == self.truth.cause for u in self.judgement.unknown
        )


def bench_record(history: History) -> BenchRecord:
    """The history as the review reads it."""
    kept = history.records

    swatches = [
        SwatchSeen(s.id, s.device, s.at_ms, s.batch, s.lab, s.de00, s.u95_de00)
        for s in kept
        if isinstance(s, r.Swatch)
    ]
    calibrations = [
        CalibrationSeen(c.device, c.at_ms, c.due_ms) for c in kept if isinstance(c, r.Calibration)
    ]
    return BenchRecord(
        coats=[x for x in kept if isinstance(x, r.Coat)],
        conditions={x.coat: x for x in kept if isinstance(x, r.Conditions)},
        findings=[x for x in kept if isinstance(x, r.Finding)],
        cups=cups_of(
            [x for x in kept if isinstance(x, r.Batch)],
            [x for x in kept if isinstance(x, r.BatchAddition)],
            [x for x in kept if isinstance(x, r.Paint)],
            [x for x in kept if isinstance(x, r.Reducer)],
            [x for x in kept if isinstance(x, r.Target)],
            swatches,
        ),
        calibrations=calibrations,
        airbrushes={x.id: x for x in kept if isinstance(x, r.Airbrush)},
        booths={x.id: x for x in kept if isinstance(x, r.Booth)},
    )


def run_history(seed: int) -> Run | None:
    """One finding of one history, drawn at random; None where the bench had none."""
    history = make_history(seed)
    if not history.truths:
        return None
    chosen = np.random.default_rng([seed, 77]).integers(len(history.truths))
    truth = history.truths[int(chosen)]
    facts = facts_of(bench_record(history))
    return Run(truth, judge(_coat(facts, truth.coat), defect_named(truth.written), facts))


def _coat(facts: list[CoatFacts], coat: str) -> CoatFacts:
    return next(f for f in facts if f.coat == coat)
