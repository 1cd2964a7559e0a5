"""What the white tile tells: rough channel levels mean a unit far from the data sheet."""

import numpy as np
import pytest

from sprayout.colour.sensors import EIGHT, filters, white_leds
from sprayout.colour.tables import GRID_NM
from sprayout.colour.tile_posterior import GROWTH, MEMBERS, WIDTH, read_tile

TILE = np.full(GRID_NM.size, 0.95)


def levels(seed, stray, bend=0.0):
    """Counts of a made-up unit: gains and filters astray by ``stray``, heights by a smooth bend."""
    rng = np.random.default_rng(seed)
    found = filters(EIGHT, np.array([max(stray, 1e-3)]), 0.01, rng)[0]
    (led,) = white_leds(40, np.random.default_rng(9))[[seed % 40]]
    gains = np.exp(0.10 * stray * rng.standard_normal(8) + bend * np.linspace(-1, 1, 8))
    counts = gains * (found @ (led * TILE))
    return 40_000.0 * counts / counts.max()


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
    assert story.widen == pytest.approx(WIDTH * story.stray**GROWTH)
