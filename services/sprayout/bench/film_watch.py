"""The wet film to be expected now: what the blush flag rests on once the reducer is known."""

from dataclasses import dataclass, field, replace

from sprayout.climate.advice import Advice, advise, help_words
from sprayout.climate.blush import Blush, SensorError, assess
from sprayout.climate.flag_rules import BoothInputs, Measured
from sprayout.climate.moist_air import BoothAir
from sprayout.climate.part import FOIL, Part, metal_part
from sprayout.climate.reducer import Blend
from sprayout.climate.wet_film import DEFAULT_FILM_UM, Film
from sprayout.journal.records import Piece

#: Steps to which inputs are rounded, finer than any probe is true: a film is worked out once for
#: each state of the air and not once a second.
AIR_STEP_C, RH_STEP_PCT, SPEED_STEP_MS = 0.1, 0.5, 0.05
KEPT = 64
USUAL_ERROR = SensorError()


@dataclass(frozen=True, slots=True)
class ExpectedFilm:
    """One film judged in the booth's air."""

    film: Film
    blush: Blush
    advice: Advice | None

    def assumptions(self) -> tuple[str, ...]:
        """Return what the figures rest on, in words."""
        film = self.film
        metal = "no metal is given for the piece: the coldest case" if film.part == FOIL else ""
        part = "" if film.part_c is not None else "the part is taken as warm as the air"
        speed = "" if film.air_speed_ms is not None else "air speed is not measured"
        said = (
            f"reducer {film.blend.words()}, the paint's own solvents not counted",
            f"{film.film_um:g} µm wet on {film.part.words()}",
            metal,
            part,
            speed,
        )
        return tuple(words for words in said if words)


@dataclass(slots=True)
class FilmWatch:
    """Works films out and remembers the last ones."""

    _known: dict[tuple[Film, float, float], ExpectedFilm] = field(default_factory=dict)

    def expect(
        self,
        inputs: BoothInputs,
        blend: Blend | None,
        part: Part,
        air_speed_ms: float | None,
        film_um: float = DEFAULT_FILM_UM,
        rh_error_pct: float = USUAL_ERROR.rh_pct,
    ) -> ExpectedFilm | None:
        """Return the film; None without a reducer or without air that was read of late.

        ``rh_error_pct`` is what the humidity may be off; a probe checked over salts is surer.
        """
        air_c, rh_pct = inputs.fresh_air_c(), inputs.fresh_rh_pct()
        if blend is None or air_c is None or rh_pct is None:
            return None
        read = inputs.part_c
        part_c = read.fresh(-20.0, 90.0, inputs.silent_after_ms) if read else None
        film = Film(
            air=BoothAir(_step(air_c, AIR_STEP_C), min(_step(rh_pct, RH_STEP_PCT), 100.0)),
            blend=blend,
            part=part,
            film_um=film_um,
            part_c=None if part_c is None else _step(part_c, AIR_STEP_C),
            air_speed_ms=None if air_speed_ms is None else _step(air_speed_ms, SPEED_STEP_MS),
        )
        key = (film, rh_error_pct, inputs.paint_rh_max_pct)
        if key not in self._known:
            if len(self._known) >= KEPT:
                self._known.clear()
            error = replace(USUAL_ERROR, rh_pct=rh_error_pct)
            blush = assess(film, error, rh_limit_pct=inputs.paint_rh_max_pct)
            self._known[key] = ExpectedFilm(film, blush, advise(film, blush))
        return self._known[key]


def with_film(
    inputs: BoothInputs, blend: Blend | None, expected: ExpectedFilm | None, unknown: str = ""
) -> BoothInputs:
    """Return the inputs with the film's margin, marked missing where it should be known.

    ``unknown`` says why a reducer in the cup gives no film.
    """
    if blend is None:
        if not unknown:
            return inputs
        return replace(inputs, film_margin_k=Measured.missing(), film_unknown=unknown)
    if expected is None:
        return replace(inputs, film_margin_k=Measured.missing())
    words = help_words(expected.advice, inputs.forecast) if expected.advice else None
    margin = Measured(expected.blush.margin_k, inputs.air_c.age_ms)
    return replace(inputs, film_margin_k=margin, film_advice=words)


def part_of(piece: Piece | None) -> Part:
    """Return the piece as the film model takes it; foil, the coldest case, if nothing is said."""
    if piece is None or piece.metal is None or piece.metal_mm is None:
        return FOIL
    return metal_part(piece.metal, piece.metal_mm)


def _step(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)
