"""What the white tile tells: rough channel levels mean a unit far from the data sheet.

The units are drawn by the benchmark's physics, which shares no code with what reads them.
"""

import numpy as np
import pytest

from sprayout.colour.tables import GRID_NM
from sprayout.colour.tile_posterior import MEMBERS, read_tile
from sprayout.commands.benchmarks import colour_truth as truth

TILE = np.full(GRID_NM.size, 0.95)


def levels(seed, stray, bend=0.0):
    """Counts of a made-up unit that strays by ``stray``, dark taken off; heights by a smooth bend.

    The tile is as grey as ``TILE``.
    """
    unit = truth.draw_unit(truth.Condition("made up", variation=stray), np.random.default_rng(seed))
    (counts,) = unit.mean_counts(np.full((1, truth.NM.size), TILE[0])) - unit.stray
    return counts * np.exp(bend * np.linspace(-1, 1, 8))


def told(seed, stray, bend=0.0):
    return read_tile("spectral-8", TILE, levels(seed, stray, bend))


def test_units_further_astray_get_a_wider_radius():
    near = np.array([told(seed, 0.7).widen for seed in range(8)])
    far = np.array([told(seed, 2.2).widen for seed in range(8)])
    assert np.median(far) > 1.4 * np.median(near)


def test_a_smooth_bend_of_the_nominal_heights_is_not_taken_for_straying():
    flat, bent = (told(3, 1.0, bend).stray for bend in (0.0, 0.3))
    assert bent == pytest.approx(flat, rel=0.4)


def test_the_level_of_all_channels_together_says_nothing():
    counts = levels(4, 1.0)
    one, other = (read_tile("spectral-8", TILE, share * counts).stray for share in (1.0, 0.3))
    assert one == pytest.approx(other, rel=1e-3)


def test_members_are_whole_sensors_and_the_same_every_time():
    story, again = told(5, 1.0), told(5, 1.0)
    assert story.members.response.shape == (MEMBERS, 8, GRID_NM.size)
    assert np.array_equal(story.members.response, again.members.response)
    assert np.all(story.members.response >= 0) and not story.members.offset.any()
