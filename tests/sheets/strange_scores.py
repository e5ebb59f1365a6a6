"""Scores as other programs may write them, to be read or refused."""


def score(measures, instruments=""):
    """Return a score as another program may write it."""
    return (
        '<score-partwise version="3.1"><part-list><score-part id="P1"><part-name>Kit</part-name>'
        f'{instruments}</score-part></part-list><part id="P1">{measures}</part></score-partwise>'
    ).encode()


def note(step, octave, duration, inside=""):
    """Return an unpitched note."""
    place = f"<display-step>{step}</display-step><display-octave>{octave}</display-octave>"
    return f"<note><unpitched>{place}</unpitched><duration>{duration}</duration>{inside}</note>"


FOUR = "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time>\
</attributes>"
EIGHTHS = "".join(note("G", 5, 1, "<notehead>x</notehead>") for _ in range(8))
BACK = "<backup><duration>8</duration></backup>"
KICKS = note("F", 4, 4) + note("F", 4, 4)
