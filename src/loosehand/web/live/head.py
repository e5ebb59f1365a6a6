"""What is known of a round when it begins: all that its ear, its judge and its row need."""

from dataclasses import asdict, dataclass
from typing import Any

from loosehand.errors import StoreError
from loosehand.hear.scheduled import RoundAcoustics, round_acoustics_from_json
from loosehand.rounds.workout import PlannedRound, RoundSetting

__all__ = ["RoundHead", "head_from_json"]


@dataclass(frozen=True)
class RoundHead:
    """A round as it begins.

    Attributes
    ----------
    round, workout, page : keys of the round, its workout, and the page that plays it
    player : whose
    index : of the round in its workout
    listens : microphone or pad
    planned, setting : what is played
    sample_rate_hz : of the page's sound
    start_frame : frame of the first sample that is kept
    first_count_s : time of count 1 in the take, as it is heard there
    acoustics : what the ear is told; None for a pad
    settings : of the microphone, as the page read them back
    round_trip_s, residual_s : of the click, None where they were not measured
    began_at : the moment, with its zone, as ISO text
    """

    round: str
    workout: str
    page: str
    player: str
    index: int
    listens: str
    planned: PlannedRound
    setting: RoundSetting
    sample_rate_hz: int
    start_frame: int
    first_count_s: float
    acoustics: RoundAcoustics | None
    settings: dict[str, Any]
    round_trip_s: float | None
    residual_s: float | None
    began_at: str

    def to_json(self) -> dict[str, Any]:
        """Return it as the journal keeps it."""
        plain = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return plain | {
            "planned": asdict(self.planned),
            "setting": asdict(self.setting),
            "acoustics": None if self.acoustics is None else self.acoustics.to_json(),
        }


def head_from_json(stored: dict[str, Any]) -> RoundHead:
    """Return it from what the journal keeps.

    Raises
    ------
    StoreError   if it is none of ours, such as one of another version
    """
    try:
        acoustics = stored["acoustics"]
        return RoundHead(
            **{
                **stored,
                "planned": PlannedRound(**stored["planned"]),
                "setting": RoundSetting(**stored["setting"]),
                "acoustics": None if acoustics is None else round_acoustics_from_json(acoustics),
            }
        )
    except (KeyError, TypeError, ValueError) as error:
        raise StoreError(
            "a round that was left in the studio's folder live was written by another version: "
            "start that one once, and it is filed"
        ) from error
