"""A studio whose stand is played by a page without a browser."""

import json
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest

from loosehand.cli.hear_commands import hear_told
from loosehand.errors import LoosehandError
from loosehand.rounds.plan_steps import EasyTempo, Frame, Length, Plan, Step
from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds
from loosehand.studio.workouts import add_player, begin_workout
from loosehand.web.live.sittings import Sittings
from loosehand.web.live.wire import read_block, read_message
from tests.blank_studio import new_studio
from tests.web.live.page_and_room import RATE_HZ, PageAndRoom

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)


def setting_of(**changes):
    """What the rounds share: short ones."""
    whole = {
        "round_s": 6.0,
        "rest_s": 4.0,
        "count_in_counts": 4,
        "counts_per_bar": 4,
        "accent": True,
        "silent_bars": False,
        "timbre": "low wood",
        "level_db": 0.0,
        "play_out": False,
        "technique": "whip fours",
        "surface": "pad",
        "loudness": "medium",
        "grip": None,
    }
    return RoundSetting(**(whole | changes))


def workout_of(*, tempos=(120.0,), alternate=False, **changes):
    """A workout of short rounds: left, right, and alternating if asked."""
    setting = setting_of(**changes)
    rounds = ladder_rounds(
        tempos_bpm=list(tempos), weak="left", round_s=setting.round_s, alternate=alternate
    )
    return Workout("Nerys", setting, rounds)


def plan_of(workout, *, target_s=None):
    """A plan of a workout's rounds, all of them steps of a ladder."""
    easy = tuple(EasyTempo(hand, 100.0, 0.95) for hand in ("left", "right"))
    frame = Frame("left", workout.setting.rest_s, workout.setting.round_s, 4, 4, easy)
    steps = tuple(Step(each, "ladder", 0.5, each.round_s) for each in workout.rounds)
    length = Length(90.0, 80.0, 100.0)
    return Plan(steps, "Because.", (), (), False, frame, target_s, length)


@dataclass
class Stand:
    """A studio, its sittings, and pages that play."""

    studio: object
    sittings: Sittings
    hearing: object = field(default=hear_told)

    def begin(self, workout, *, plan=None):
        """Keep a workout and return its key."""
        add_player(self.studio, workout.player, now=NOW)
        return begin_workout(self.studio, workout, now=NOW, plan=plan)

    def seat(self, key, page="page-1", *, take_over=False):
        """Seat a page."""
        return self.sittings.join(key, page, take_over=take_over)

    def page(self, seat, **how):
        """A page at a seat, with its room."""
        sitting = seat.sitting

        def send(message):
            if isinstance(message, bytes):
                sitting.take_block(read_block(message))
            else:
                sitting.take_message(read_message(json.dumps(message)))

        page = PageAndRoom(send, **how)
        page.sitting = sitting
        return page

    def play(self, page, *, until, longest_s=200.0):
        """Let time pass until something holds."""
        end = page.frame + longest_s * RATE_HZ
        while not until(page):
            assert page.frame < end, f"still {page.state.get('phase')} after {longest_s} s"
            page.step()
            self.settle(page)

    def settle(self, page):
        """Send what waits and finish slow work."""
        sitting = page.sitting
        while sitting.outbox or sitting.jobs:
            waiting, sitting.outbox = sitting.outbox, []
            for message in waiting:
                page.take(message)
            jobs, sitting.jobs = sitting.jobs, []
            for job in jobs:
                try:
                    job.then(job.work())
                except LoosehandError as error:
                    if job.failed is None:
                        raise
                    page.said.append(f"{error}.")
                    job.failed()


def new_stand(folder):
    """An empty studio with a stand, in a folder."""
    studio = new_studio(folder / "studio", busy_timeout_s=5.0)
    ticking = iter(range(10**6))
    sittings = Sittings(
        studio, hearing=hear_told, now=lambda: NOW + timedelta(milliseconds=next(ticking))
    )
    return Stand(studio, sittings)


def new_sittings(stand):
    """Those of a server that was started anew on the same studio."""
    return Sittings(stand.studio, hearing=stand.hearing, now=lambda: NOW)


@pytest.fixture
def stand(tmp_path):
    """An empty studio with a stand."""
    made = new_stand(tmp_path)
    yield made
    made.studio.close()
