"""Steerwright from Python: the field book, verdicts, handling, photos, the phone as a level, order requests.

The calls are those of the phones' shells, written by `bindings/generate.sh` beside the library itself. Enums and records
have the names of the Rust crate `steerwright-ffi`, whose documentation says what each call does; every error is a
`SteerwrightError` whose text is fit to show.

    import steerwright as s
    book = s.Book.open("crew.steerbook")
    bike = book.add_bike("Hire bike 01", None, s.Observed()).id
    screen = book.bike_screen(bike, s.screen_options())

Calls that take long are coroutines (`await book.add_photos(...)`) and do their work on a thread of the library.
"""

from ._generated import *  # noqa: F403
from . import _generated as _g

__all__ = [name for name in dir(_g) if not name.startswith("_")] + ["screen_options", "check_options"]


def check_options(**changed):
    """What to judge: slackening, by the first maker's catalogue, unless told otherwise."""
    return _g.CheckOptions(**({"direction": _g.Direction.SLACKER} | changed))


def screen_options(drawings=True, theme=_g.Theme.AUTO, **check):
    """What a bike's screen shows: everything, unless told otherwise; further names go to `check_options`."""
    return _g.ScreenOptions(check=check_options(**check), drawings=drawings, theme=theme)


# Every error has a text to show; the generated classes would print their fields.
_g.SteerwrightError.__str__ = lambda self: self.reason
_g.ShellError.__str__ = lambda self: self.reason
